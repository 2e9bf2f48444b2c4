package wear

import "math"

// noPair is the cost of a row and column that may not go together.
const noPair = int64(-1)

// assigner places rows in columns one at a time, each along the cheapest chain
// of moves. rowPrice and columnPrice are the prices of linear programming:
// cost - rowPrice - columnPrice is never negative, and 0 where placed.
type assigner struct {
	cost                  [][]int64
	columns               []int // those of cost that may be used
	rowPrice, columnPrice []int64
	columnOf, rowOf       []int // -1 where free; columns are counted in columns
	dearest               []int64
	from                  []int
	reached               []bool
}

// assign gives every row one of the columns, no column twice, at the least sum
// of costs, exactly. A cost is 0 or more, or noPair. ok is false where it
// cannot be done, or not for less than below. The work grows with
// rows² × columns; no sum exceeds 4 × rows × the largest cost.
//
// Source: shortest augmenting paths (Jonker and Volgenant 1987, Computing 38;
// Crouse 2016, IEEE Transactions on Aerospace and Electronic Systems 52).
func assign(cost [][]int64, columns []int, below int64) (columnOf []int, total int64, ok bool) {
	if len(columns) < len(cost) {
		return nil, 0, false
	}
	a := newAssigner(cost, columns)
	for row := range cost {
		if !a.place(row) {
			return nil, 0, false
		}
		if total = a.total(row + 1); total >= below { // further rows cost no less
			return nil, 0, false
		}
	}
	for row, k := range a.columnOf {
		a.columnOf[row] = columns[k]
	}
	return a.columnOf, total, true
}

func newAssigner(cost [][]int64, columns []int) *assigner {
	n, m := len(cost), len(columns)
	a := &assigner{
		cost: cost, columns: columns, rowPrice: make([]int64, n), columnPrice: make([]int64, m),
		columnOf: allFree(n), rowOf: allFree(m), dearest: make([]int64, m), from: make([]int, m), reached: make([]bool, m),
	}
	return a
}

func allFree(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = -1
	}
	return list
}

// place finds a column for one more row; false where no chain of moves frees
// one.
func (a *assigner) place(start int) bool {
	for k := range a.columns {
		a.dearest[k], a.reached[k] = math.MaxInt64, false
	}
	paid, row := int64(0), start
	for {
		k := a.reach(row, paid)
		if k < 0 {
			return false
		}
		paid, a.reached[k] = a.dearest[k], true
		if a.rowOf[k] < 0 {
			a.price(start, paid)
			a.move(start, k)
			return true
		}
		row = a.rowOf[k]
	}
}

// reach looks on from a row that was reached at the price paid, and returns the
// cheapest column not yet reached, a free one before a taken one; -1 where
// there is none.
func (a *assigner) reach(row int, paid int64) int {
	best, costs := -1, a.cost[row]
	paid -= a.rowPrice[row]
	for k, column := range a.columns {
		if a.reached[k] {
			continue
		}
		if c := costs[column]; c != noPair {
			if by := paid + c - a.columnPrice[k]; by < a.dearest[k] {
				a.dearest[k], a.from[k] = by, row
			}
		}
		switch {
		case a.dearest[k] == math.MaxInt64:
		case best < 0 || a.dearest[k] < a.dearest[best],
			a.dearest[k] == a.dearest[best] && a.rowOf[k] < 0 && a.rowOf[best] >= 0:
			best = k
		}
	}
	return best
}

// price keeps the prices true after a search that ended at the price end.
func (a *assigner) price(start int, end int64) {
	a.rowPrice[start] += end
	for k, reached := range a.reached {
		if !reached {
			continue
		}
		a.columnPrice[k] -= end - a.dearest[k]
		if row := a.rowOf[k]; row >= 0 {
			a.rowPrice[row] += end - a.dearest[k]
		}
	}
}

// move shifts every row of the chain that ends in column k.
func (a *assigner) move(start, k int) {
	for {
		row := a.from[k]
		was := a.columnOf[row]
		a.columnOf[row], a.rowOf[k] = k, row
		if row == start {
			return
		}
		k = was
	}
}

func (a *assigner) total(rows int) (sum int64) {
	for row := range rows {
		sum += a.cost[row][a.columns[a.columnOf[row]]]
	}
	return sum
}

// placeMost places as many rows as can be and leaves the others at -1 (augmenting
// paths; Kuhn 1955, Naval Research Logistics Quarterly 2).
func placeMost(cost [][]int64, columns []int) (columnOf, rowOf []int) {
	a := newAssigner(cost, columns)
	for row := range cost {
		for k := range a.reached {
			a.reached[k] = false
		}
		a.squeeze(row)
	}
	return a.columnOf, a.rowOf
}

// squeeze places a row, moving others where it must.
func (a *assigner) squeeze(row int) bool {
	for k, column := range a.columns {
		if a.reached[k] || a.cost[row][column] == noPair {
			continue
		}
		a.reached[k] = true
		if a.rowOf[k] < 0 || a.squeeze(a.rowOf[k]) {
			a.columnOf[row], a.rowOf[k] = k, row
			return true
		}
	}
	return false
}

// placesAll reports whether every row can be placed.
func placesAll(cost [][]int64, columns []int) bool {
	columnOf, _ := placeMost(cost, columns)
	for _, k := range columnOf {
		if k < 0 {
			return false
		}
	}
	return true
}

// rivals finds rows that compete for too few columns: one row more than there
// are columns for them, and no row could be spared. It is nil where every row
// can be placed. Rows that share the shortage with few others come first.
//
// Source: P. Hall 1935, Journal of the London Mathematical Society 10. From a
// row left over, follow its columns to the rows they went to, and so on: all
// columns met are taken, and any row met could be the one left over.
func rivals(cost [][]int64, columns []int) (rows, among []int) {
	columnOf, rowOf := placeMost(cost, columns)
	for row, k := range columnOf {
		if k >= 0 {
			continue
		}
		r, c := followRivals(cost, columns, rowOf, row)
		if rows == nil || len(r) < len(rows) {
			rows, among = r, c
		}
	}
	return rows, among
}

func followRivals(cost [][]int64, columns, rowOf []int, start int) (rows, among []int) {
	met := make([]bool, len(columns))
	rows = []int{start}
	for i := 0; i < len(rows); i++ {
		for k, column := range columns {
			if !met[k] && cost[rows[i]][column] != noPair {
				met[k] = true
				rows, among = append(rows, rowOf[k]), append(among, column)
			}
		}
	}
	return rows, among
}
