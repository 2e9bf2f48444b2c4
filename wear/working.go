package wear

// Step is one line of how a result was worked out: what was reckoned, the
// equation, the same with its numbers put in, and where it comes from.
type Step struct {
	Text     string
	Equation string
	Numbers  string
	Source   string
}
