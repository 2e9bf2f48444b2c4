package server

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

func read(t testing.TB, text string) *File {
	t.Helper()
	return must[*File](t)(ReadCSV(strings.NewReader(text)))
}

// TestReadHistory: columns in any order, those that may be empty missing, with
// the marks that spreadsheets put before a file.
func TestReadHistory(t *testing.T) {
	for what, text := range map[string]string{
		"plain":                    "date,kind,serial,feature,value\n2024-01-01,cylinder,C-1,barrel bore,5.2500\n",
		"another order":            "value,serial,feature,kind,date\n5.2500,C-1,barrel bore,Cylinders,2024-01-01\n",
		"byte order mark":          "\xef\xbb\xbfdate,kind,serial,feature,value\n2024-01-01,cylinder,C-1,barrel bore,5.2500\n",
		"semicolons":               "date;kind;serial;feature;value\n2024-01-01;cylinder;C-1;barrel bore;5.2500\n",
		"carriage returns":         "date,kind,serial,feature,value\r\n2024-01-01,cylinder,C-1,barrel bore,5.2500\r\n",
		"capitals and spaces":      "Date, Kind ,SERIAL,Feature,Value\n 2024-01-01 , cylinder ,C-1, barrel bore ,5.2500\n",
		"quotes":                   "\"date\",kind,serial,feature,value\n2024-01-01,cylinder,\"C-1\",\"barrel bore\",5.2500\n",
		"a nameless last column":   "date,kind,serial,feature,value,\n2024-01-01,cylinder,C-1,barrel bore,5.2500,\n",
		"blank rows":               "date,kind,serial,feature,value\n\n,,,,\n2024-01-01,cylinder,C-1,barrel bore,5.2500\n\n",
		"no newline at the end":    "date,kind,serial,feature,value\n2024-01-01,cylinder,C-1,barrel bore,5.2500",
		"event given as reading":   "date,kind,serial,event,feature,value\n2024-01-01,cylinder,C-1,Reading,barrel bore,5.2500\n",
		"columns with other names": "date,kind,serial,feature,value,engine-hours,temperature c\n2024-01-01,cylinder,C-1,barrel bore,5.2500,,\n",
	} {
		f := read(t, text)
		if f.Report.Kind != "history" || f.Report.BadRows != 0 || f.History.Len() != 1 {
			t.Errorf("%s: %s file of %d rows: %+v", what, f.Report.Kind, f.History.Len(), f.Report)
			continue
		}
		r := f.History.At(0)
		if r.Day != "2024-01-01" || r.Kind != wear.Cylinder || r.Serial != "C-1" || r.Event != store.EventReading || r.Feature != "barrel bore" || r.Value != "5.2500" {
			t.Errorf("%s: row %+v", what, r)
		}
	}
	f := read(t, strings.Join(historyColumns, ",")+"\n2024-01-01,Invented 9,R-1,1204.5,3,ring,K-1,,61,end gap,2,top,thrust,0.0150,in,0.0005,20.5,\"a note, with a comma\"\n")
	r := f.History.At(0)
	if r.Line != 2 || r.Model != "Invented 9" || r.Engine != "R-1" || *r.EngineHours != 120_450 || *r.PartHours != 6_100 || r.Position != 3 || r.Groove != 2 || r.Station != "top" || r.Axis != "thrust" ||
		r.Unit != "in" || r.GaugeSD != "0.0005" || *r.Temperature != 20.5 || r.Note != "a note, with a comma" {
		t.Errorf("a row with everything: %+v", r)
	}
}

// TestReadBadRows: every bad row is listed with its line, column, value and
// reason, and the good ones are kept.
func TestReadBadRows(t *testing.T) {
	head := "date,engine_model,engine,engine_hours,position,kind,serial,event,part_hours,feature,groove,value,temperature_c\n"
	f := read(t, head+strings.Join([]string{
		"2024-01-01,M,R-1,10,1,cylinder,C-1,,,bore,,5.25,",        // 2: good
		"1.1.2024,M,R-1,10,1,cylinder,C-1,,,bore,,5.25,",          // 3
		"2024-01-01,M,R-1,10,1,crank,C-1,,,bore,,5.25,",           // 4
		"2024-01-01,M,R-1,10,1,cylinder,,,,bore,,5.25,",           // 5
		"2024-01-01,M,R-1,10,1,cylinder,C/1,,,bore,,5.25,",        // 6
		"2024-01-01,M,R-1,10,1,cylinder,C-1,painted,,bore,,5.25,", // 7
		"2024-01-01,M,R-1,\"1,204\",1,cylinder,C-1,,,bore,,5.25,", // 8
		"2024-01-01,M,R-1,10,37,cylinder,C-1,,,bore,,5.25,",       // 9
		"2024-01-01,M,R-1,10,1,cylinder,C-1,,-1,bore,,5.25,",      // 10
		"2024-01-01,M,R-1,10,1,cylinder,C-1,,,bore,0,5.25,",       // 11
		"2024-01-01,M,R-1,10,1,cylinder,C-1,,,,,5.25,",            // 12
		"2024-01-01,M,R-1,10,1,cylinder,C-1,,,bore,,5.25,NaN",     // 13
		"nonsense,M,R-1,x,y,z,,dropped,q,,r,5.25,hot",             // 14: everything at once
		"2024-01-01,M,R-1,10,1,cylinder,\"C-1\"x,,,bore,,5.25,",   // 15: no CSV
		"2024-06-01,M,R-1,20,1,cylinder,C-1,mate replaced,,,,,",   // 16: follows from the book, never entered
		"2024-06-01,M,R-1,20,1,cylinder,C-1,installed new,,,,,",   // 17: good
	}, "\n")+"\n")
	want := map[string]string{"3 date": "1.1.2024", "4 kind": "crank", "5 serial": "", "6 serial": "C/1", "7 event": "painted", "8 engine_hours": "1,204", "9 position": "37", "10 part_hours": "-1", "11 groove": "0",
		"12 feature": "", "13 temperature_c": "NaN", "14 date": "nonsense", "14 engine_hours": "x", "14 position": "y", "14 kind": "z", "14 serial": "", "14 event": "dropped", "14 part_hours": "q", "14 groove": "r", "14 temperature_c": "hot",
		"15 ": "", "16 event": "mate replaced"}
	for _, e := range f.Report.Errors {
		k := fmt.Sprintf("%d %s", e.Line, e.Column)
		if value, known := want[k]; !known || value != e.Value || e.Reason == "" {
			t.Errorf("line %d, column %s, value %q: %s", e.Line, e.Column, e.Value, e.Reason)
		}
		delete(want, k)
	}
	for k := range want {
		t.Errorf("nothing is said of line and column %s", k)
	}
	if f.Report.BadRows != 14 || f.Report.Rows != 14 || f.History.Len() != 2 {
		t.Errorf("%d bad rows of %d, %d good; want 14 and 2", f.Report.BadRows, f.Report.Rows, f.History.Len())
	}
}

func TestReadLimits(t *testing.T) {
	f := read(t, "engine_model,kind,feature,new_min,new_max,service_max,unit,wear,overhaul_hours,document\nInvented 9,cylinder,barrel bore,5.2490,5.2510,5.2600,in,up,1200,\"Invented manual, book 2\"\n")
	want := store.LimitsRow{Line: 2, Model: "Invented 9", Kind: "cylinder", Feature: "barrel bore", NewMin: "5.2490", NewMax: "5.2510", ServiceMax: "5.2600", Unit: "in", Wear: "up", Life: "1200", Document: "Invented manual, book 2"}
	if f.Report.Kind != "limits" || len(f.Limits) != 1 || f.Limits[0] != want {
		t.Errorf("%s file: %+v", f.Report.Kind, f.Limits)
	}
}

// TestReadNoFile: what is no file of either sort is refused as a whole.
func TestReadNoFile(t *testing.T) {
	endless := strings.Repeat("x", 2*longestRow)
	for text, want := range map[string]error{"": ErrEmptyFile, endless: ErrLongRow, "date,kind,serial\n" + endless: ErrLongRow, "date,kind,serial\n\"" + endless: ErrLongRow, "name,address\nA. Smith,here\n": ErrUnknownFile, "\n": nil, "kind\n": ErrUnknownFile, "\xff\xfe\x00": ErrUnknownFile} {
		if f, err := ReadCSV(strings.NewReader(text)); err == nil || want != nil && !errors.Is(err, want) {
			t.Errorf("%.40q: %+v, %v; want %v", text, f, err, want)
		}
	}
	for text, words := range map[string]string{
		"date,kind,serial,colour\n":     `column "colour" is not one of date, engine_model`,
		"date,kind,serial,date\n":       "column date stands twice",
		"kind,feature,new_min,colour\n": `column "colour" is not one of engine_model, kind`,
	} {
		if _, err := ReadCSV(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("%q: %v, want %q", text, err, words)
		}
	}
	if f := read(t, "date,kind,serial\n"+strings.Repeat("\"a\"b\n", 100)); f.Report.BadRows == 0 || f.Report.BadRows > 10 {
		t.Errorf("a file that is none: %d bad rows before it was given up", f.Report.BadRows)
	}
}

func TestSafeCell(t *testing.T) {
	for in, want := range map[string]string{"": "", "C-1": "C-1", "=1+1": "'=1+1", "@SUM(A1)": "'@SUM(A1)", "+cmd": "'+cmd", "-cmd": "'-cmd", "-1.5": "-1.5", "+3.5": "+3.5", "\t=1": "'\t=1", "\r=1": "'\r=1", "−1": "−1", "a=1": "a=1"} {
		if got := safeCell(in); got != want {
			t.Errorf("safeCell(%q) = %q, want %q", in, got, want)
		}
	}
}

// FuzzReadCSV reads anything: there is an error or a file whose every row is
// within what the book takes, and never a panic.
func FuzzReadCSV(f *testing.F) {
	f.Add(strings.Join(historyColumns, ",") + "\n2024-01-01,M,R-1,10,1,cylinder,C-1,,5,bore,1,top,thrust,5.25,in,0.0002,20,note\n")
	f.Add(strings.Join(limitsColumns, ",") + "\nM,cylinder,bore,,,5.2,5.3,,5.4,in,up,1200,doc,1,2\n")
	f.Add("\xef\xbb\xbfdate;kind;serial\n\"2024\"x;ring;K\n")
	f.Add("date,kind,serial\n\"open quote\n2024-01-01,pin,N-1\n")
	f.Fuzz(func(t *testing.T, text string) {
		file, err := ReadCSV(strings.NewReader(text))
		if err != nil {
			return
		}
		if file.Report.Kind != "history" && file.Report.Kind != "limits" {
			t.Fatalf("kind %q", file.Report.Kind)
		}
		if file.Report.BadRows > file.Report.Rows || len(file.Report.Errors) == 0 && file.Report.BadRows > 0 {
			t.Fatalf("%d bad rows of %d, %d listed", file.Report.BadRows, file.Report.Rows, len(file.Report.Errors))
		}
		for i := range file.History.Len() {
			r := file.History.At(i)
			if _, err := wear.ParseDay(string(r.Day)); err != nil || r.Serial == "" || r.Position < 0 || r.Position > 36 || r.Groove < 0 || r.Groove > 8 || r.Event == "" {
				t.Fatalf("row %+v", r)
			}
			if h := r.EngineHours; h != nil && (*h < 0 || *h > 100_000_000) {
				t.Fatalf("engine hours %s", h)
			}
		}
	})
}
