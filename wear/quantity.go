package wear

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Value is a measured quantity as an integer in the base unit of its
// dimension: nanometres, micrograms, micronewtons, or millionths of a plain
// number. Integers make a value come back exactly as it was typed:
// 0.0001 in = 2,540 nm and 0.001 mm = 1,000 nm.
//
// Source: 1 in = 25.4 mm exactly, NIST SP 811 appendix B.8.
type Value int64

// plus and less are v + o and v - o, or the largest or smallest Value where
// that lies beyond.
func (v Value) plus(o Value) Value {
	switch sum := v + o; {
	case v > 0 && o > 0 && sum < 0:
		return math.MaxInt64
	case v < 0 && o < 0 && sum >= 0:
		return math.MinInt64
	default:
		return sum
	}
}

func (v Value) less(o Value) Value {
	switch rest := v - o; {
	case v >= 0 && o < 0 && rest < 0:
		return math.MaxInt64
	case v < 0 && o > 0 && rest >= 0:
		return math.MinInt64
	default:
		return rest
	}
}

// Hours is a time in service in hundredths of an hour.
type Hours int64

// Float returns the hours as a number of hours, h / 100.
func (h Hours) Float() float64 { return float64(h) / 100 }

// String writes hours the way a meter shows them: 1204.5 or 1204.55.
func (h Hours) String() string {
	sign, n := "", uint64(h)
	if h < 0 {
		sign, n = "-", -n // of the smallest, too, which has no positive Hours
	}
	s := fmt.Sprintf("%s%d.%02d", sign, n/100, n%100)
	return strings.TrimSuffix(s, "0")
}

// Dimension says what kind of quantity a unit measures.
type Dimension string

// The dimensions of what a shop measures.
const (
	Length Dimension = "length"
	Mass   Dimension = "mass"
	Force  Dimension = "force"
	Plain  Dimension = "plain" // any other unit a shop names itself
)

// Unit is a name for an amount of a dimension.
type Unit struct {
	Name string
	Dim  Dimension
	base *big.Rat // base units in one of this unit
}

// The units the trade writes. Factors: NIST SP 811 appendix B.8 (inch, ounce,
// pound, pound-force are exact by definition).
var (
	Inch       = Unit{"in", Length, rat("25400000")}
	Millimetre = Unit{"mm", Length, rat("1000000")}
	Gram       = Unit{"g", Mass, rat("1000000")}
	Ounce      = Unit{"oz", Mass, rat("28349523.125")}
	Newton     = Unit{"N", Force, rat("1000000")}
	PoundForce = Unit{"lbf", Force, rat("4448221.6152605")}

	knownUnits = []Unit{Inch, Millimetre, {"µm", Length, rat("1000")}, Gram, {"kg", Mass, rat("1000000000")},
		Ounce, {"lb", Mass, rat("453592370")}, Newton, PoundForce}
	unitAliases = map[string]string{"inch": "in", "inches": "in", `"`: "in", "um": "µm", "μm": "µm",
		"n": "N", "lbs": "lb", "grams": "g", "millimetre": "mm", "millimeter": "mm"}
)

func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("wear: bad unit factor " + s)
	}
	return r
}

// Errors of reading a quantity from text.
var (
	ErrNoNumber   = errors.New("not a number")
	ErrTooFine    = errors.New("finer than the book keeps")
	ErrTooLarge   = errors.New("too large")
	ErrNoUnit     = errors.New("no unit")
	ErrNegative   = errors.New("may not be negative")
	ErrOtherUnits = errors.New("not a unit of this quantity")
)

// UnitNamed finds a unit by its name. A name that is not one of the known
// units is a unit of a Plain quantity, kept as it was written; an empty name
// is ErrNoUnit. Source: NIST SP 811 appendix B.8 for the factors.
func UnitNamed(name string) (Unit, error) {
	name = strings.TrimSpace(name)
	if name == "" {
		return Unit{}, ErrNoUnit
	}
	if a, ok := unitAliases[strings.ToLower(name)]; ok {
		name = a
	}
	for _, u := range knownUnits {
		if u.Name == name || strings.EqualFold(u.Name, name) {
			return u, nil
		}
	}
	return Unit{Name: name, Dim: Plain, base: rat("1000000")}, nil
}

// UnitsOf lists the known units of a dimension, in the order in which they are
// offered; none of a Plain quantity, whose units a shop names itself. Source:
// NIST SP 811 appendix B.8 for the factors.
func UnitsOf(d Dimension) []Unit {
	var us []Unit
	for _, u := range knownUnits {
		if u.Dim == d {
			us = append(us, u)
		}
	}
	return us
}

// ParseValue reads a decimal number in unit u, exactly. It returns
// ErrNoNumber for anything else, ErrTooFine where the number has digits below
// the base unit of a length (mass and force are rounded to theirs), and
// ErrTooLarge beyond MostTyped base units either way; ErrNoUnit for a unit
// without a factor. Source: NIST SP 811 appendix B.8 for the factors.
func ParseValue(text string, u Unit) (Value, error) {
	r, err := parseDecimal(text)
	if err != nil {
		return 0, err
	}
	if u.base == nil {
		return 0, ErrNoUnit
	}
	r.Mul(r, u.base)
	if !r.IsInt() && u.Dim == Length {
		return 0, fmt.Errorf("%q %s is %w (1 nanometre)", text, u.Name, ErrTooFine)
	}
	n := roundRat(r)
	if !n.IsInt64() || Value(n.Int64()) > MostTyped || Value(n.Int64()) < -MostTyped {
		return 0, fmt.Errorf("%q %s: %w", text, u.Name, ErrTooLarge)
	}
	return Value(n.Int64()), nil
}

// MostTyped bounds what is typed, in base units: 900 m, 900 kg, 900,000 N. It
// leaves room below the largest number that the statistics of wear take.
const MostTyped Value = 900_000_000_000

// ParseHours reads hours with at most two decimals: 1204.5, 1204.55.
// Errors: ErrNoNumber, ErrTooFine, ErrTooLarge above 1,000,000 h, ErrNegative.
// Source: the range is a choice.
func ParseHours(text string) (Hours, error) {
	r, err := parseDecimal(text)
	if err != nil {
		return 0, err
	}
	if r.Sign() < 0 {
		return 0, fmt.Errorf("%q: hours %w", text, ErrNegative)
	}
	r.Mul(r, big.NewRat(100, 1))
	if !r.IsInt() {
		return 0, fmt.Errorf("%q is %w (a hundredth of an hour)", text, ErrTooFine)
	}
	if !r.Num().IsInt64() || r.Num().Int64() > 100_000_000 {
		return 0, fmt.Errorf("%q hours: %w", text, ErrTooLarge)
	}
	return Hours(r.Num().Int64()), nil
}

// parseDecimal accepts an optional sign, digits and one point: no exponents,
// fractions or hexadecimal, which nobody writes on a sheet.
func parseDecimal(text string) (*big.Rat, error) {
	s := strings.TrimSpace(text)
	s = strings.Replace(s, "−", "-", 1) // the typographic minus that tablets insert
	digits := strings.TrimLeft(s, "+-")
	if len(s)-len(digits) > 1 || digits == "" || digits == "." || len(digits) > 30 {
		return nil, fmt.Errorf("%q is %w", text, ErrNoNumber)
	}
	if strings.Contains(digits, ",") {
		return nil, fmt.Errorf("%q is %w: write the decimals after a point", text, ErrNoNumber)
	}
	points := 0
	for _, c := range digits {
		if c == '.' {
			points++
		} else if c < '0' || c > '9' {
			return nil, fmt.Errorf("%q is %w", text, ErrNoNumber)
		}
	}
	r, ok := new(big.Rat).SetString(s)
	if !ok || points > 1 {
		return nil, fmt.Errorf("%q is %w", text, ErrNoNumber)
	}
	return r, nil
}

// roundRat rounds half away from zero.
func roundRat(r *big.Rat) *big.Int {
	if r.IsInt() {
		return new(big.Int).Set(r.Num())
	}
	half := big.NewRat(1, 2)
	if r.Sign() < 0 {
		half.Neg(half)
	}
	t := new(big.Rat).Add(r, half)
	return new(big.Int).Quo(t.Num(), t.Denom())
}

// In returns v as a number of units u, v / (base units in one u), rounded to
// the nearest float64; of base units where u is none. Source: NIST SP 811
// appendix B.8 for the factors.
func (v Value) In(u Unit) float64 {
	f, _ := v.of(u).Float64()
	return f
}

func (v Value) of(u Unit) *big.Rat {
	r := new(big.Rat).SetInt64(int64(v))
	if u.base == nil {
		return r
	}
	return r.Quo(r, u.base)
}

// ValueOf rounds x units u to the nearest base unit. It returns ErrTooLarge
// for NaN, infinities and anything beyond 9.2e18 base units, and ErrNoUnit.
// Halves are rounded away from zero. Source: NIST SP 811 appendix B.8 for the
// factors.
func ValueOf(x float64, u Unit) (Value, error) {
	if u.base == nil {
		return 0, ErrNoUnit
	}
	r := new(big.Rat).SetFloat64(x)
	if r == nil {
		return 0, ErrTooLarge
	}
	n := roundRat(r.Mul(r, u.base))
	if !n.IsInt64() {
		return 0, ErrTooLarge
	}
	return Value(n.Int64()), nil
}

// Decimals is the number of decimals that unit u is written with as a rule:
// 4 for inches, 3 for millimetres, kilograms and pounds, 2 for ounces, 1 for
// any other. Source: common practice, no source.
func (u Unit) Decimals() int {
	switch u.Name {
	case "in":
		return 4
	case "mm":
		return 3
	case "kg", "lb":
		return 3
	case "oz":
		return 2
	}
	return 1
}

// Format writes v in unit u with at least the unit's usual decimals and as
// many more, up to two, as the value needs to be exact (0.00005 in); in base
// units where u is none. What is too little to be seen is nothing, not minus
// nothing. Source: common practice, no source.
func (v Value) Format(u Unit) string {
	r := v.of(u)
	for d := u.Decimals(); d < u.Decimals()+2; d++ {
		s := r.FloatString(d)
		if back, _ := new(big.Rat).SetString(s); back.Cmp(r) == 0 {
			return s
		}
	}
	s := trimTo(r.FloatString(u.Decimals()+2), u.Decimals())
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-") // too little to be seen is nothing, not minus nothing
	}
	return s
}

// FormatFloat writes x, a number of units u, with the unit's usual decimals
// and extra more, or fewer where below 0; for computed figures such as expected
// wear. What is not finite is written as a dash. Source: common practice, no
// source.
func (u Unit) FormatFloat(x float64, extra int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return unknownNumber
	}
	return strconv.FormatFloat(x, 'f', max(u.Decimals()+extra, 0), 64)
}

// trimTo removes trailing zeros down to d decimals.
func trimTo(s string, d int) string {
	point := strings.IndexByte(s, '.')
	for point >= 0 && len(s)-point-1 > d && s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	return s
}

// LastDigit is the size of the last digit of a number as it was written in
// unit u, 10^-decimals × (base units in one u): what was read, it was read at
// least this coarsely. It is rounded to the base unit, to 0 for what is finer
// than half of it. Errors: ErrNoNumber, ErrNoUnit, ErrTooLarge. Source: exact by
// the way numbers are written.
func LastDigit(text string, u Unit) (Value, error) {
	if _, err := parseDecimal(text); err != nil {
		return 0, err
	}
	if u.base == nil {
		return 0, ErrNoUnit
	}
	_, decimals, _ := strings.Cut(strings.TrimSpace(text), ".")
	step := new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(len(decimals))), nil))
	n := roundRat(step.Mul(step, u.base))
	if !n.IsInt64() {
		return 0, ErrTooLarge
	}
	return Value(n.Int64()), nil
}

// AssumedSD is the standard deviation taken for a gauge that nobody named, in
// base units: 0.0002 in for a length, as of a good shop bore gauge; none for
// other quantities, where the last digit must do. Source: common practice, no
// source.
func AssumedSD(d Dimension) Value {
	if d == Length {
		return 5080
	}
	return 0
}
