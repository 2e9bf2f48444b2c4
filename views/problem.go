package views

// Problem is the page for what could not be done: 404, 409, 422, 500. Detail
// is in words for people, never an internal error.
type Problem struct {
	Page    Page
	Status  int
	Heading string // "" for the usual words of the status
	Detail  string
	Ways    []Link // ways out
	Typed   bool   // something was sent, so that going back finds it in the form
}

// heading is what the page is called.
func (p Problem) heading() string {
	if p.Heading != "" {
		return p.Heading
	}
	switch {
	case p.Status == 404:
		return "That is not in the book"
	case p.Status == 403:
		return "That request was refused"
	case p.Status == 409:
		return "The book refuses that"
	case p.Status == 413:
		return "That is too large"
	case p.Status >= 400 && p.Status < 500:
		return "That cannot be read"
	case p.Typed:
		return "Nothing was saved"
	}
	return "The page could not be made"
}
