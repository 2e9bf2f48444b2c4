package wear

import (
	"bufio"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// strd reads the y and x columns of a NIST StRD file, which follow the second
// line that starts with "Data:".
func strd(t *testing.T, name string) (y, x []float64) {
	t.Helper()
	file, err := os.Open("../testdata/strd/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	in := false
	for lines := bufio.NewScanner(file); lines.Scan(); {
		fields := strings.Fields(lines.Text())
		if in && len(fields) == 2 {
			y = append(y, number(t, fields[0]))
			x = append(x, number(t, fields[1]))
		}
		in = in || len(fields) == 3 && fields[0] == "Data:" && fields[2] == "x"
	}
	return y, x
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// near fails unless got is within tol of want, relative to want where want is
// larger than 1.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(math.Abs(want), 1)) {
		t.Errorf("%s = %.15g, want %.15g ± %g", what, got, want, tol)
	}
}

// Certified values: NIST StRD, Norris, lower level of difficulty.
func TestLineNorris(t *testing.T) {
	y, x := strd(t, "Norris.dat")
	if len(y) != 36 {
		t.Fatalf("%d observations, want 36", len(y))
	}
	w := make([]float64, len(x))
	for i := range w {
		w[i] = 1
	}
	l := fitLine(x, y, w)
	residual := math.Sqrt(l.chi2 / float64(len(x)-2))
	intercept := l.y - l.slope*l.x
	near(t, "slope", l.slope, 1.00211681802045, 1e-12)
	near(t, "sd of slope", l.sd*residual/0.429796848199937e-03, 1, 1e-10)
	near(t, "intercept", intercept/-0.262323073774029, 1, 1e-10)
	near(t, "sd of intercept", residual*math.Sqrt(1/l.weight+l.x*l.x/l.sxx), 0.232818234301152, 1e-10)
	near(t, "residual sd", residual, 0.884796396144373, 1e-10)
}

// Certified values: NIST StRD, NoInt1, average level of difficulty.
func TestSumsNoInt1(t *testing.T) {
	y, x := strd(t, "NoInt1.dat")
	if len(y) != 11 {
		t.Fatalf("%d observations, want 11", len(y))
	}
	var m Sums
	for i := range x {
		m.add(0, x[i], y[i], 1)
	}
	_, b, ok := m.solve(0)
	if !ok {
		t.Fatal("no solution")
	}
	residual := math.Sqrt(2 * m.loss(0, b) / 10)
	near(t, "slope", b, 2.07438016528926, 1e-13)
	near(t, "sd of slope", residual/math.Sqrt(m.S22)/0.165289256198347e-01, 1, 1e-10)
	near(t, "residual sd", residual, 3.56753034006338, 1e-10)
}

// The curve's two-function solver gives the intercept and the slope of the
// same certified line, where both are positive as it demands: y + 1 is fitted.
func TestSumsNorris(t *testing.T) {
	y, x := strd(t, "Norris.dat")
	var m Sums
	for i := range x {
		m.add(1, x[i], y[i]+1, 1)
	}
	a, b, ok := m.solve(0)
	if !ok {
		t.Fatal("no solution")
	}
	near(t, "intercept", a, 1-0.262323073774029, 1e-10)
	near(t, "slope", b, 1.00211681802045, 1e-11)
}

func TestSumsBounds(t *testing.T) {
	var shrinking, bent Sums
	for _, h := range []float64{1, 2, 3, 4} {
		shrinking.add(1, h, -h, 1)
		bent.add(1, h, h*h, 1) // unconstrained a = -5
	}
	if _, _, ok := shrinking.solve(0); ok {
		t.Error("found wear in shrinking readings")
	}
	a, b, ok := bent.solve(0)
	if !ok || a != 0 || !(b > 0) {
		t.Errorf("a, b, ok = %g, %g, %v, want a = 0", a, b, ok)
	}
	near(t, "slope through 0", b, 100.0/30, 1e-12) // Σh³/Σh² by hand
}

func TestLineAfter(t *testing.T) {
	x, y, w := []float64{0, 1}, []float64{0, 1}, []float64{4, 4}
	l := fitLine(x, y, w)
	next := l.after(4, 0.25)
	again := fitLine(append(x, next), append(y, next), append(w, 4))
	near(t, "sd with one more reading", again.sd, 0.25, 1e-12)
}
