package views

// SignIn is the page where one chooses a name and types the password. Fields:
// name, password, to, sent, and those that are carried.
type SignIn struct {
	Page         Page
	Draft        Draft
	Names        []Option
	To           string    // where it goes on to
	Sent         bool      // a form was sent to To and waits
	Carried      []Carried // what was typed in it
	Lost         bool      // it held files, which cannot be carried
	DemoPassword string    // that of everybody in the demo book
	Choose       string    // who has to choose their own password first
}

// SignInOwn is the field what of the form that chooses one's own password.
const SignInOwn = "own"

// Carried is a field of a form that waits for the sign-in.
type Carried struct{ Name, Value string }

// FirstOwner makes the first person of a book. Fields: name, password,
// mechanic.
type FirstOwner struct {
	Page  Page
	Draft Draft
}

// People lists who may sign in and takes another. Fields: name, owner,
// mechanic, inspector, until, engines, password.
type People struct {
	Page   Page
	Action string
	Draft  Draft
	Rows   []PersonRow
}

// PersonRow is a person; Out says that they may not sign in, Engines which
// ones they are limited to.
type PersonRow struct {
	Name, Roles, Until, Engines, Out, Href string
}

// PersonForm is the page of one person. Fields: what, and those of People with
// active.
type PersonForm struct {
	Page    Page
	Action  string
	Draft   Draft
	Name    string
	Own     bool          // of who is signed in
	Entries []PersonEntry // newest first
	Back    Link
}

// PersonEntry is what was once entered of a person.
type PersonEntry struct {
	When, What, By, Name, Roles, Until, Engines, Out string
}

// What the forms on a person's page do.
const (
	PersonChange   = "change"
	PersonPassword = "password"
	PersonOut      = "sign out"
)

// Me is the page of who is signed in. Fields: what, old, password.
type Me struct {
	Page   Page
	Action string
	Draft  Draft
	Facts  []Fact
}

// personLabels are the fields of a person by name.
var personLabels = map[string]string{"name": "Name", "owner": "May do: owner", "mechanic": "May do: mechanic", "inspector": "May do: inspector", "active": "May sign in", "until": "Last day", "engines": "Only these engines", "password": "Password"}
