package server

import (
	"bytes"
	"net/http"
	"strings"

	"golang.org/x/net/html"
)

// takeOut takes links and forms out of a page that its reader may not use, so
// that no page has to ask for each of its own. A link to what others may do
// goes with its words; of one to a thing of another engine the words stay.
func (v visitor) takeOut(page *bytes.Buffer) {
	if v.everything() {
		return
	}
	var out bytes.Buffer
	tokens := html.NewTokenizer(bytes.NewReader(page.Bytes()))
	unlink := "" // the element whose end tag goes, "" for none
	for tokens.Next() != html.ErrorToken {
		raw := bytes.Clone(tokens.Raw())
		t := tokens.Token()
		switch {
		case t.Type == html.EndTagToken && t.Data == unlink:
			unlink = ""
			continue
		case t.Type != html.StartTagToken || t.Data != "a" && t.Data != "form":
			out.Write(raw)
			continue
		}
		switch got := v.uses(t); {
		case got == refused:
			skip(tokens, t.Data)
		case got == elsewhere && t.Data == "a":
			unlink = "a"
		default:
			out.Write(raw)
		}
	}
	page.Reset()
	page.Write(out.Bytes())
}

// everything reports whether a person may use all that a page can offer.
// Nobody is shown only what anybody may use in the first place.
func (v visitor) everything() bool {
	return v.person.ID == 0 || rightOf(v.person)&(owner|mechanic) == owner|mechanic
}

// uses looks up where a link or form leads.
func (v visitor) uses(t html.Token) access {
	attributes := map[string]string{"method": http.MethodGet}
	for _, a := range t.Attr {
		attributes[a.Key] = a.Val
	}
	to, there := attributes["href"]
	if t.Data == "form" {
		to, there = attributes["action"]
	}
	if !there || !strings.HasPrefix(to, "/") {
		return allowed
	}
	return v.may(strings.ToUpper(attributes["method"]), to)
}

// skip reads on to the end of an element, none of which lies in another of its
// kind.
func skip(tokens *html.Tokenizer, name string) {
	for tokens.Next() != html.ErrorToken {
		if t := tokens.Token(); t.Type == html.EndTagToken && t.Data == name {
			return
		}
	}
}
