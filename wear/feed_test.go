package wear

import (
	"encoding/binary"
	"errors"
	"math"
	"reflect"
	"testing"
)

// feed turns the bytes of a fuzz test into numbers, sensible ones and absurd
// ones; when it is empty it gives zeros.
type feed struct{ data []byte }

func (f *feed) byte() byte {
	if len(f.data) == 0 {
		return 0
	}
	b := f.data[0]
	f.data = f.data[1:]
	return b
}

func (f *feed) small(n int) int { return int(f.byte()) % n }

func (f *feed) bits() uint64 {
	var raw [8]byte
	for i := range raw {
		raw[i] = f.byte()
	}
	return binary.LittleEndian.Uint64(raw[:])
}

var oddFloats = [...]float64{0, 1, -1, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 1e-9, 1e9, 1e300}

// float is mostly a number from 0 to 255 with a part, else an odd one or any.
func (f *feed) float() float64 {
	switch b := f.byte(); {
	case b < 16:
		return oddFloats[int(b)%len(oddFloats)]
	case b < 20:
		return math.Float64frombits(f.bits())
	case b < 24:
		return -float64(f.byte())
	default:
		return float64(f.byte()) + float64(b)/256
	}
}

var oddValues = [...]Value{0, 1, -1, math.MaxInt64, math.MinInt64, largest, largest + 1, -largest}

// value is mostly a length of 0 to 255 mm, else an odd one or any.
func (f *feed) value() Value {
	switch b := f.byte(); {
	case b < 16:
		return oddValues[int(b)%len(oddValues)]
	case b < 20:
		return Value(f.bits())
	default:
		return Value(f.byte())*1_000_000 + Value(b)*3_917
	}
}

func (f *feed) gauged() Gauged {
	g := Gauged{Value: f.value()}
	if f.byte() < 200 {
		g.U = float64(f.byte()) * 100
	} else {
		g.U = f.float()
	}
	return g
}

func (f *feed) bound() *Value {
	if f.byte() < 60 {
		return nil
	}
	v := f.value()
	return &v
}

func (f *feed) limit() Limit {
	return Limit{NewMin: f.bound(), NewMax: f.bound(), ServiceMin: f.bound(), ServiceMax: f.bound(), Wear: []Direction{Up, Down, "", "sideways"}[f.small(4)], Life: Hours(f.value())}
}

// feeds begins a fuzz test: with nothing, with bytes that make sensible
// numbers, with odd numbers first, and with a mixture.
func feeds(f *testing.F) {
	f.Helper()
	f.Add([]byte{})
	for _, step := range []byte{1, 7, 37, 91} {
		data := make([]byte, 400)
		for i := range data {
			data[i] = 60 + byte(i)*step%190
		}
		f.Add(data)
		odd := append([]byte(nil), data...)
		for i := 0; i < len(odd); i += int(step) + 3 {
			odd[i] = byte(i) % 24
		}
		f.Add(odd)
	}
}

// sound fails where an error is none of those named, or a result that came
// without one is not finite.
func sound(t *testing.T, what string, result any, err error, named ...error) bool {
	t.Helper()
	if err == nil {
		finite(t, what, reflect.ValueOf(result))
		return true
	}
	for _, n := range named {
		if errors.Is(err, n) {
			return false
		}
	}
	t.Fatalf("%s: %v is not among the errors its comment names", what, err)
	return false
}
