package views

// WorkedStep is one line of how a figure was worked out: what was reckoned,
// the equation, the same with its numbers, and its source.
type WorkedStep struct{ Text, Equation, Numbers, Source string }
