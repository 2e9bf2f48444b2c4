package views

// Tablets is how tablets and phones reach this computer.
type Tablets struct {
	Page        Page
	On          bool   // the hangar network is served
	Href        string // the page about trust that the code opens, "" where there is no network
	Book        string // the book's address on a tablet, to go with it
	Card        string // the network card it is on
	Ways        []TabletWay
	NameSays    string // about the .local name
	Title       string // of the certificate
	Fingerprint []string
	Ends        string
	EndsSoon    bool
}

// TabletWay is one more address, or the one that is shown.
type TabletWay struct {
	Book, Trust, Card string
	Href              string // shows its code
	Shown             bool
}

// Trust is the page that a tablet opens before it trusts this computer.
type Trust struct {
	Title       string
	Book        []string // the book's addresses, the likeliest first
	Fingerprint []string
	Ends        string
	DER, PEM    string // addresses of the certificate
	Guides      []TrustGuide
}

// TrustGuide is the steps for one kind of device.
type TrustGuide struct {
	System string
	Steps  []string
}
