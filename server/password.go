package server

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base32"
	"encoding/base64"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
)

// Strength of a stored password: argon2id with 19 MiB, 2 passes, 1 lane.
// Source: OWASP Password Storage Cheat Sheet.
const (
	hashMemory = 19 * 1024 // KiB
	hashPasses = 2
	hashLanes  = 1
	hashLength = 32
)

// hashing lets two passwords be worked on at a time: each takes 19 MiB.
var hashing = make(chan struct{}, 2)

func derive(password string, salt []byte, memory, passes uint32, lanes uint8) []byte {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	return argon2.IDKey([]byte(password), salt, passes, memory, lanes, hashLength)
}

// HashPassword is what the book keeps of a password.
func HashPassword(password string) string {
	salt := make([]byte, 16)
	rand.Read(salt) // never fails
	sum := derive(password, salt, hashMemory, hashPasses, hashLanes)
	b64 := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, hashMemory, hashPasses, hashLanes, b64(salt), b64(sum))
}

// isPassword reports whether a password is the one that was kept. A hash that
// cannot be read fits no password.
func isPassword(kept, password string) bool {
	var version int
	var memory, passes uint32
	var lanes uint8
	parts := strings.Split(kept, "$")
	if len(parts) != 6 || parts[1] != "argon2id" {
		return false
	}
	if _, err := fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &version, &memory, &passes, &lanes); err != nil || version != argon2.Version || passes < 1 || lanes < 1 {
		return false
	}
	salt, err := base64.RawStdEncoding.DecodeString(parts[4])
	if err != nil {
		return false
	}
	sum, err := base64.RawStdEncoding.DecodeString(parts[5])
	if err != nil {
		return false
	}
	return subtle.ConstantTimeCompare(derive(password, salt, memory, passes, lanes), sum) == 1
}

// nobody is the hash that a password is held against where there is no such
// person, so that the answer takes as long.
var nobody = fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, hashMemory, hashPasses, hashLanes,
	base64.RawStdEncoding.EncodeToString(make([]byte, 16)), base64.RawStdEncoding.EncodeToString(make([]byte, hashLength)))

// Length of a password. OWASP ASVS 5 wants at least 8 and recommends 15; 12
// can be typed on a tablet with gloves just off, and tries are slowed.
const (
	shortestPassword = 12
	longestPassword  = 128
)

// passwordFault says what is wrong with a new password, "" for nothing. names
// are words that others would try first: of the person, of the shop.
func passwordFault(password string, names ...string) string {
	n := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password) || n > longestPassword:
		return fmt.Sprintf("at most %d characters", longestPassword)
	case n < shortestPassword:
		return fmt.Sprintf("at least %d characters: three or four words do, with spaces if you like", shortestPassword)
	}
	left := plain(password)
	for _, name := range append(names, "barrelbook", "password") {
		if name = plain(name); len(name) >= 3 {
			left = strings.ReplaceAll(left, name, "")
		}
	}
	if len([]rune(left)) < shortestPassword/2 {
		return "that is little more than a name that others would try first: add words of your own"
	}
	if monotonous(left) {
		return "that repeats itself, or runs along the keys: others would try it first"
	}
	if isCommon(password) {
		return "that is one of the passwords that are used most, and tried first: take other words"
	}
	return ""
}

// plain is a text in small letters without spaces and marks.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(" -_.,!'\t", r) {
			return -1
		}
		return r
	}, strings.ToLower(s))
}

// keyRows are rows of a keyboard, and the letters in their order.
var keyRows = []string{"12345678901234567890", "qwertyuiop", "qwertzuiop", "asdfghjkl", "zxcvbnm", "abcdefghijklmnopqrstuvwxyz"}

// monotonous reports a text of fewer than five different characters, or one
// that goes mostly from a character to its neighbour.
func monotonous(s string) bool {
	rs := []rune(s)
	seen := map[rune]bool{}
	next := 0
	for i, r := range rs {
		seen[r] = true
		if i > 0 && neighbours(rs[i-1], r) {
			next++
		}
	}
	return len(seen) < 5 || next*4 >= (len(rs)-1)*3
}

func neighbours(a, b rune) bool {
	if a == b {
		return true
	}
	for _, row := range keyRows {
		if strings.Contains(row, string([]rune{a, b})) || strings.Contains(row, string([]rune{b, a})) {
			return true
		}
	}
	return false
}

// FreshPassword makes a password of 100 random bits, for who forgot theirs.
func FreshPassword() string {
	bits := make([]byte, 13)
	rand.Read(bits) // never fails
	text := strings.ToLower(base32.StdEncoding.EncodeToString(bits))
	return text[:5] + "-" + text[5:10] + "-" + text[10:15] + "-" + text[15:20]
}
