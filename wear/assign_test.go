package wear

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// everyPlacing calls see with each way to give every row its own column, by
// trying all.
func everyPlacing(cost [][]int64, columns []int, see func(of []int)) {
	of := []int{}
	var next func()
	next = func() {
		if len(of) == len(cost) {
			see(of)
			return
		}
		for _, c := range columns {
			if cost[len(of)][c] != noPair && !slices.Contains(of, c) {
				of = append(of, c)
				next()
				of = of[:len(of)-1]
			}
		}
	}
	next()
}

// cheapest is the least sum by trying all, -1 where nothing goes.
func cheapest(cost [][]int64, columns []int) int64 {
	least := int64(-1)
	everyPlacing(cost, columns, func(of []int) {
		var sum int64
		for row, c := range of {
			sum += cost[row][c]
		}
		if least < 0 || sum < least {
			least = sum
		}
	})
	return least
}

// randomCosts are rows and columns of which a share may not go together.
func randomCosts(r *rand.Rand, rows, columns int, never float64, most int64) [][]int64 {
	cost := make([][]int64, rows)
	for i := range cost {
		cost[i] = make([]int64, columns)
		for j := range cost[i] {
			cost[i][j] = r.Int64N(most)
			if r.Float64() < never {
				cost[i][j] = noPair
			}
		}
	}
	return cost
}

func upTo(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}

// TestAssignAgainstAll sets the solver against trying all, with few costs, so
// that many are equal, and with the largest a matching can have.
func TestAssignAgainstAll(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	done, impossible := 0, 0
	for range 400 {
		rows := 1 + r.IntN(6)
		cost := randomCosts(r, rows, rows+r.IntN(3), []float64{0, 0.3, 0.6}[r.IntN(3)], []int64{4, 1000, 400_000_000_000_000}[r.IntN(3)])
		columns := upTo(len(cost[0]))
		r.Shuffle(len(columns), func(i, j int) { columns[i], columns[j] = columns[j], columns[i] })
		want := cheapest(cost, columns)
		of, total, ok := assign(cost, columns, math.MaxInt64)
		if ok != (want >= 0) || ok != placesAll(cost, columns) {
			t.Fatalf("%v: possible %v, all %v, by trying all %d", cost, ok, placesAll(cost, columns), want)
		}
		if !ok {
			impossible++
			continue
		}
		done++
		checkPlaced(t, cost, of, total, want)
		if _, _, ok := assign(cost, columns, total); ok {
			t.Errorf("%v: found less than %d", cost, total)
		}
		if _, _, ok := assign(cost, columns, total+1); !ok {
			t.Errorf("%v: %d not found as less than %d", cost, total, total+1)
		}
	}
	if done < 100 || impossible < 50 {
		t.Errorf("%d possible and %d impossible: too few to tell", done, impossible)
	}
}

func checkPlaced(t *testing.T, cost [][]int64, of []int, total, want int64) {
	t.Helper()
	var sum int64
	used := map[int]bool{}
	for row, c := range of {
		if cost[row][c] == noPair || used[c] {
			t.Fatalf("%v: row %d may not have column %d", cost, row, c)
		}
		used[c] = true
		sum += cost[row][c]
	}
	if sum != total || total != want {
		t.Errorf("%v: sum %d, said %d, by trying all %d", cost, sum, total, want)
	}
}

// TestAssignSortedPairs: for squares of distances and as many columns as rows,
// pairing both in the order of size is best (the rearrangement inequality), at
// a size that trying all cannot reach.
func TestAssignSortedPairs(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	for range 20 {
		const n = 60
		a, b := make([]int64, n), make([]int64, n)
		cost := make([][]int64, n)
		for i := range n {
			a[i], b[i] = r.Int64N(100_000), r.Int64N(100_000)
		}
		for i := range n {
			for j := range n {
				cost[i] = append(cost[i], (a[i]-b[j])*(a[i]-b[j]))
			}
		}
		_, total, ok := assign(cost, upTo(n), math.MaxInt64)
		slices.Sort(a)
		slices.Sort(b)
		var want int64
		for i := range n {
			want += (a[i] - b[i]) * (a[i] - b[i])
		}
		if !ok || total != want {
			t.Errorf("total %d, want %d", total, want)
		}
	}
}

// TestRivals: a set found is short by one, none of it could be left out, and
// it is found exactly where not all rows can be placed.
func TestRivals(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	found := 0
	for range 500 {
		n := 2 + r.IntN(5)
		cost := randomCosts(r, n, n+r.IntN(3), 0.7, 10)
		columns := upTo(len(cost[0]))
		rows, among := rivals(cost, columns)
		if possible := cheapest(cost, columns) >= 0; possible != (rows == nil) {
			t.Fatalf("%v: possible %v, rivals %v", cost, possible, rows)
		}
		if rows == nil {
			continue
		}
		found++
		checkRivals(t, cost, columns, rows, among)
	}
	if found < 100 {
		t.Errorf("only %d sets of rivals", found)
	}
}

func checkRivals(t *testing.T, cost [][]int64, columns, rows, among []int) {
	t.Helper()
	fits := map[int]bool{}
	for _, row := range rows {
		for _, c := range columns {
			if cost[row][c] != noPair {
				fits[c] = true
			}
		}
	}
	if len(among) != len(rows)-1 || len(fits) != len(among) {
		t.Fatalf("%v: rows %v among %v, which fit %v", cost, rows, among, fits)
	}
	for _, c := range among {
		if !fits[c] {
			t.Errorf("%v: column %d fits none of %v", cost, c, rows)
		}
	}
	for i := range rows {
		var others [][]int64
		for j, row := range rows {
			if j != i {
				others = append(others, cost[row])
			}
		}
		if cheapest(others, columns) < 0 {
			t.Errorf("%v: without row %d the rows %v still cannot be placed", cost, rows[i], rows)
		}
	}
}
