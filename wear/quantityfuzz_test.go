package wear

import (
	"errors"
	"strings"
	"testing"
)

// FuzzParseValue types anything in any unit: a value that is taken is written
// and read again as the same value where its unit's decimals can say it, and
// whatever is refused is refused with an error that callers can tell apart.
func FuzzParseValue(f *testing.F) {
	for _, text := range []string{"5.2535", "-0.001", "−.5", "+3.5", "1e9", "1,5", "9223372036854.775807", "0.00000001", " 7 ", "5.", "", "+", strings.Repeat("1", 40), "0." + strings.Repeat("0", 27) + "1", "." + strings.Repeat("0", 29)} {
		f.Add(text, uint8(0))
		f.Add(text, uint8(1))
		f.Add(text, uint8(7))
	}
	f.Fuzz(func(t *testing.T, text string, which uint8) {
		u := knownUnits[int(which)%len(knownUnits)]
		v, err := ParseValue(text, u)
		if err != nil {
			if v != 0 || !errors.Is(err, ErrNoNumber) && !errors.Is(err, ErrTooFine) && !errors.Is(err, ErrTooLarge) {
				t.Fatalf("ParseValue(%q, %s) = %d, %v", text, u.Name, v, err)
			}
			return
		}
		if step, err := LastDigit(text, u); err != nil && !errors.Is(err, ErrTooLarge) || step < 0 {
			t.Fatalf("LastDigit(%q, %s) = %d, %v", text, u.Name, step, err)
		}
		written := v.Format(u)
		back, err := ParseValue(written, u)
		if errors.Is(err, ErrTooFine) || errors.Is(err, ErrTooLarge) { // the last decimals were rounded: an inch of an odd nanometre
			return
		}
		if err != nil {
			t.Fatalf("%q %s is written %q, which reads %v", text, u.Name, written, err)
		}
		if off := float64(back - v); off > tolerance(u) || off < -tolerance(u) {
			t.Fatalf("%q %s is kept as %d, written %q and read as %d", text, u.Name, v, written, back)
		}
	})
}

// tolerance is half the last decimal that Format writes at most, base units.
func tolerance(u Unit) float64 {
	base, _ := u.base.Float64()
	for range u.Decimals() + 2 {
		base /= 10
	}
	return base/2 + 0.5
}

// FuzzParseHours types anything as hours: what is taken lies in the range
// that the book keeps and comes back as the same hours.
func FuzzParseHours(f *testing.F) {
	for _, text := range []string{"1204.5", "0", "-0", "1000000", "1000000.01", ".05", "1204.555", "−1", "12:30", "1e3", strings.Repeat("0", 30)} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		h, err := ParseHours(text)
		if err != nil {
			if h != 0 || !errors.Is(err, ErrNoNumber) && !errors.Is(err, ErrTooFine) && !errors.Is(err, ErrTooLarge) && !errors.Is(err, ErrNegative) {
				t.Fatalf("ParseHours(%q) = %d, %v", text, h, err)
			}
			return
		}
		if h < 0 || h > 100_000_000 {
			t.Fatalf("ParseHours(%q) = %d hundredths", text, h)
		}
		if back, err := ParseHours(h.String()); err != nil || back != h {
			t.Fatalf("%q is kept as %d, written %s and read as %d, %v", text, int64(h), h, int64(back), err)
		}
	})
}
