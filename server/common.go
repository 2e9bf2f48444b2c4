package server

import (
	"bytes"
	"crypto/sha256"
	_ "embed" // commonList
	"sort"
	"strings"
)

// commonList are the commonest passwords that are long enough to be taken, as
// the first commonBytes of the SHA-256 of each in small letters, in their
// order. Source: the 1,000,000 most frequent of ten million passwords that
// were published, as SecLists keeps them (10-million-password-list-top-1000000);
// of those, the ones of 12 characters or more. TestCommonList makes the file.
//
//go:embed common.sha256
var commonList []byte

// commonBytes keeps the chance that a password which is not in a list of
// 50,000 is taken for one that is at 5 in 100 million.
const commonBytes = 5

// isCommon reports a password that is among the commonest, however it is
// spaced and whatever letters are large.
func isCommon(password string) bool {
	return listed(commonList, strings.ToLower(password)) || listed(commonList, plain(password))
}

func listed(list []byte, word string) bool {
	sum := sha256.Sum256([]byte(word))
	n := len(list) / commonBytes
	i := sort.Search(n, func(i int) bool { return bytes.Compare(list[i*commonBytes:][:commonBytes], sum[:commonBytes]) >= 0 })
	return i < n && bytes.Equal(list[i*commonBytes:][:commonBytes], sum[:commonBytes])
}
