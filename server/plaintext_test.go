package server

import (
	"fmt"
	"strings"
	"testing"

	"barrelbook/store"
)

// TestFilesOfOtherText: what is not UTF-8, and characters that cannot be seen,
// are refused with line and column.
func TestFilesOfOtherText(t *testing.T) {
	const head = "date,kind,serial,feature,value,note\n2024-01-01,cylinder,C-1,barrel bore,5.2500,\"two\nlines\tand a tab, geprüft\"\n"
	f := read(t, "\xef\xbb\xbf"+head+"2024-01-02,cylinder,M\xfcller-1,barrel bore,5.2510,gepr\xfcft\n2024-01-03,cylinder,A\x00B,barrel bore,5.2520,\n")
	if f.History.Len() != 1 || f.Report.Rows != 2 || f.Report.BadRows != 2 || len(f.Report.Errors) != 3 {
		t.Fatalf("%d good rows, %+v", f.History.Len(), f.Report)
	}
	for i, want := range []store.RowError{{Line: 4, Column: "serial", Reason: "save the file as UTF-8"}, {Line: 4, Column: "note", Reason: "save the file as UTF-8"}, {Line: 5, Column: "serial", Value: "AB", Reason: "cannot be seen"}} {
		if got := f.Report.Errors[i]; got.Line != want.Line || got.Column != want.Column || !strings.Contains(got.Reason, want.Reason) || want.Value != "" && got.Value != want.Value {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	if _, err := ReadCSV(strings.NewReader("\xff\xfed\x00a\x00t\x00e\x00,\x00")); err == nil || !strings.Contains(err.Error(), "save the file as UTF-8") {
		t.Errorf("a UTF-16 file: %v", err)
	}
}

// TestUnseenCharacters: a text with a NUL in it is refused at its field, from a
// page and from a tablet, and nothing else that was typed is lost.
func TestUnseenCharacters(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	for path, fields := range map[string][]string{
		"/parts":                                 {"kind=cylinder", "serial=N\x00UL", "source=new", "note=typed note"},
		fmt.Sprintf("/parts/%d/events", b.shelf): {"event=honed", "day=2025-01-10", "note=typed note\x1f"},
	} {
		check(t, path, post(h, path, formOf(fields...)), 422, []string{"cannot be seen or printed", "typed note"}, []string{"\x00"})
	}
	d := b.aDelivery(t, "5.2512")
	d.Fields["note"] = "a\x00b"
	if a := sendOutbox(t, h, 200, d); len(a.Answers) != 1 || len(a.Answers[0].Faults) != 1 || a.Answers[0].Faults[0].Field != "note" {
		t.Errorf("a sheet with a NUL: %+v", a)
	}
	d = b.aDelivery(t, "5.2512")
	d.Device = "stand\x00 2"
	if a := sendOutbox(t, h, 200, d); len(a.Answers) != 1 || len(a.Answers[0].Faults) != 1 {
		t.Errorf("a device with a NUL: %+v", a)
	}
	two := b.aDelivery(t, "5.2513")
	two.Fields["note"] = "two\r\nlines,\ta tab"
	if a := sendOutbox(t, h, 200, two); len(a.Answers) != 1 || a.Answers[0].Kept == "" {
		t.Errorf("a note of two lines: %+v", a)
	}
	if _, err := b.Check(t.Context(), ""); err != nil {
		t.Error(err)
	}
}
