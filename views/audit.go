package views

// NavAudit is the page of who did what.
const NavAudit = "audit"

// Audit is the page of who did what. Fields of its search: who, day, record,
// serial.
type Audit struct {
	Page         Page
	Search       Draft
	People       []Option
	Records      []Option
	Found        string // "1,204 entries"
	Rows         []AuditRow
	Older, Newer string // hrefs, "" for none
	Head         string // hash of the newest entry
	HeadRow      string
	HeadAt       string
}

// AuditRow is one entry.
type AuditRow struct {
	Number, At  string
	Who, Device string
	What, Href  string
	Note        string
	New         bool   // nothing was before it
	Folded      string // what unfolds the fields, where they are too many to show at once
	Changes     []AuditChange
	Hash        string
}

// AuditChange is a field before and after.
type AuditChange struct {
	Field, Before, After string
}
