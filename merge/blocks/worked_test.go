package blocks

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// curve is a table of one row, so changed.
func curve(values []float64, how ...func(f *tables.Fields)) *tables.Table {
	f := tables.Fields{ID: "t", Unit: "deg", X: count(len(values)), Values: values}
	for _, h := range how {
		h(&f)
	}
	return tabletest.Must(tables.NewTable(f))
}

// grid is a map with so many columns.
func grid(columns int, values []float64) *tables.Table {
	return tabletest.Must(tables.NewTable(tables.Fields{ID: "t", Unit: "deg", X: count(columns), Y: count(len(values) / columns), Values: values}))
}

func said(list []Block) string {
	var words []string
	for _, b := range list {
		words = append(words, fmt.Sprintf("%s %s (%d)", b.Place(), b.Rule("deg"), b.Changed))
	}
	return strings.Join(words, "; ")
}

// TestBlocksBruteForce searches all rectangles of small grids for those in which
// every cell changed by one sum or by one factor. Every block that is told is one
// of them, and none of them holds a block and more: a person told of a part of
// what was done would look for the rest.
func TestBlocksBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	told := 0
	for range 400 {
		rows, columns := 2+r.IntN(4), 2+r.IntN(4)
		old := make([]float64, rows*columns)
		for i := range old {
			old[i] = float64(3000+r.IntN(90000)) / 1024 // no sum or factor is near another by chance
		}
		now := append([]float64(nil), old...)
		for range 1 + r.IntN(2) { // rectangles that may overlap
			r0, c0 := r.IntN(rows), r.IntN(columns)
			r1, c1 := r0+r.IntN(rows-r0), c0+r.IntN(columns-c0)
			by := float64(2 + r.IntN(3))
			factor := r.IntN(2) == 0
			for row := r0; row <= r1; row++ {
				for c := c0; c <= c1; c++ {
					if i := row*columns + c; factor {
						now[i] *= by
					} else {
						now[i] += by
					}
				}
			}
		}
		list, _ := find(grid(columns, old), grid(columns, now))
		for i, b := range list {
			told++
			if !oneRule(old, now, columns, b.Rows, b.Columns) {
				t.Errorf("no rule explains block %v of\n%v\n%v", b, old, now)
			}
			others := taken(list, i, columns, rows)
			for _, grown := range around(b, rows, columns) {
				if oneRule(old, now, columns, grown.Rows, grown.Columns) && free(others, grown, columns) {
					t.Errorf("block %v %v stands in rectangle %v %v, all of which one rule explains:\n%v\n%v", b.Rows, b.Columns, grown.Rows, grown.Columns, old, now)
				}
			}
		}
	}
	if told < 300 {
		t.Errorf("only %d blocks", told)
	}
}

// oneRule reports whether all cells of a rectangle changed by one sum, or all by
// one factor, or became one number: the numbers are dyadic, so that it is told
// exactly.
func oneRule(old, now []float64, columns int, rows, cols [2]int) bool {
	first := rows[0]*columns + cols[0]
	sum, factor, set := true, true, true
	for r := rows[0]; r <= rows[1]; r++ {
		for c := cols[0]; c <= cols[1]; c++ {
			i := r*columns + c
			if now[i] == old[i] {
				return false
			}
			sum = sum && now[i]-old[i] == now[first]-old[first]
			factor = factor && now[i]*old[first] == now[first]*old[i]
			set = set && now[i] == now[first]
		}
	}
	return sum || factor || set
}

// taken are the cells of all blocks but one.
func taken(blocks []Block, but, columns, rows int) []bool {
	cells := make([]bool, rows*columns)
	for i, b := range blocks {
		for r := b.Rows[0]; r <= b.Rows[1] && i != but; r++ {
			for c := b.Columns[0]; c <= b.Columns[1]; c++ {
				cells[r*columns+c] = true
			}
		}
	}
	return cells
}

func free(taken []bool, b Block, columns int) bool {
	for r := b.Rows[0]; r <= b.Rows[1]; r++ {
		for c := b.Columns[0]; c <= b.Columns[1]; c++ {
			if taken[r*columns+c] {
				return false
			}
		}
	}
	return true
}

// around are all larger rectangles that hold a block.
func around(b Block, rows, columns int) []Block {
	var list []Block
	for r0 := 0; r0 <= b.Rows[0]; r0++ {
		for r1 := b.Rows[1]; r1 < rows; r1++ {
			for c0 := 0; c0 <= b.Columns[0]; c0++ {
				for c1 := b.Columns[1]; c1 < columns; c1++ {
					grown := Block{Rows: [2]int{r0, r1}, Columns: [2]int{c0, c1}}
					if grown.Rows != b.Rows || grown.Columns != b.Columns {
						list = append(list, grown)
					}
				}
			}
		}
	}
	return list
}

// TestBlocksByHand: what a person would say of these grids, written before the
// program was asked.
func TestBlocksByHand(t *testing.T) {
	base := []float64{ // four columns, three rows
		10, 20, 30, 40,
		12, 22, 32, 42,
		14, 24, 34, 44,
	}
	edit := func(pairs map[int]float64) []float64 {
		now := append([]float64(nil), base...)
		for i, v := range pairs {
			now[i] = v
		}
		return now
	}
	for _, c := range []struct {
		why  string
		now  []float64
		want string // "rows columns rule", joined by "; "
	}{
		{"nothing", edit(nil), ""},
		{"one cell alone", edit(map[int]float64{5: 27}), "[1 1] [1 1] + 5"},
		{"two cells that have nothing in common", edit(map[int]float64{0: 17.3, 11: 41.9}), ""},
		{"two degrees more in the middle of the last two rows", edit(map[int]float64{5: 24, 6: 34, 9: 26, 10: 36}), "[1 2] [1 2] + 2"},
		{"five per cent more in the first row", edit(map[int]float64{0: 10.5, 1: 21, 2: 31.5, 3: 42}), "[0 0] [0 3] × 1.05"},
		{"everything half", edit(map[int]float64{0: 5, 1: 10, 2: 15, 3: 20, 4: 6, 5: 11, 6: 16, 7: 21, 8: 7, 9: 12, 10: 17, 11: 22}), "[0 2] [0 3] × 0.5"},
		{"all brought down to 32", edit(map[int]float64{3: 32, 7: 32, 10: 32, 11: 32}), "clamped 32"},
		{"one column set to 50", edit(map[int]float64{2: 50, 6: 50, 10: 50}), "[0 2] [2 2] = 50"},
		{"one edit above a block to which the same was done: the block is one", edit(map[int]float64{1: 23, 5: 25, 6: 35, 7: 45, 9: 27, 10: 37, 11: 47}), "[1 2] [1 3] + 3"},
		{"one edit left of a block that was set to its value", edit(map[int]float64{4: 9, 5: 9, 6: 9, 9: 9, 10: 9}), "[1 2] [1 2] = 9"},
		{"an L: the longer arm is one, the rest another", edit(map[int]float64{0: 13, 4: 15, 8: 17, 9: 27, 10: 37}), "[0 2] [0 0] + 3; [2 2] [1 2] + 3"},
	} {
		list, _ := find(grid(4, base), grid(4, c.now))
		var got []string
		for _, b := range list {
			words := fmt.Sprint(b.Rows, " ", b.Columns, " ")
			switch {
			case b.Factor != nil:
				words += fmt.Sprint("× ", *b.Factor)
			case b.Add != nil:
				words += fmt.Sprint("+ ", *b.Add)
			case b.Set != nil:
				words += fmt.Sprint("= ", *b.Set)
			case b.Clamped != nil:
				words = fmt.Sprint("clamped ", *b.Clamped)
			}
			got = append(got, words)
		}
		if strings.Join(got, "; ") != c.want {
			t.Errorf("%s: %q, want %q", c.why, strings.Join(got, "; "), c.want)
		}
	}
}

// TestOneCellInWords: the rule of a single cell is the shorter of a sum and a
// factor, to the digit whatever the resolution; from 0 no factor leads anywhere.
func TestOneCellInWords(t *testing.T) {
	for _, c := range []struct {
		from, to, resolution float64
		rule                 string
	}{{10, 12, 0, "+ 2 deg"}, {40, 42.8, 0, "× 1.07"}, {0, 3, 0, "+ 3 deg"}, {8, 4, 0, "− 4 deg"}, {12.34, 6.17, 0, "× 0.5"},
		{20, 20.5, 1, "+ 0.5 deg"}, {0.6, 2.5, 0.1, "+ 1.9 deg"}, {40, 42, 1, "+ 2 deg"}} {
		step := func(f *tables.Fields) { f.Resolution = c.resolution }
		list, loose := find(curve([]float64{c.from, 7}, step), curve([]float64{c.to, 7}, step))
		if len(list) != 1 || list[0].Rule("deg") != c.rule || len(loose) != 1 {
			t.Errorf("%v to %v: %v, %v", c.from, c.to, said(list), loose)
		}
	}
}

// TestRulesAtLimits: a rule that ends at a limit says so where a cell would have
// gone past it, and not where a cell arrives just there; cells of one value
// brought to another are set or moved, not clamped.
func TestRulesAtLimits(t *testing.T) {
	limits := func(f *tables.Fields) { f.Limits = &tables.Limits{Low: 10, High: 60} }
	for _, c := range []struct {
		why      string
		from, to []float64
		rule     string
	}{
		{"down to the limit", []float64{20, 20, 21, 25, 33, 40}, []float64{10, 10, 11, 15, 23, 30}, "row 0, columns 0–5 − 10 deg (6)"},
		{"past it", []float64{18, 20, 21, 25, 33, 40}, []float64{10, 10, 11, 15, 23, 30}, "row 0, columns 0–5 − 10 deg, clamped at 10 deg (6)"},
		{"up to the limit", []float64{20, 22, 25, 50, 50, 41}, []float64{30, 32, 35, 60, 60, 51}, "row 0, columns 0–5 + 10 deg (6)"},
		{"past that", []float64{20, 22, 25, 50, 56, 41}, []float64{30, 32, 35, 60, 60, 51}, "row 0, columns 0–5 + 10 deg, clamped at 60 deg (6)"},
		{"some stood at the limit", []float64{10, 10, 21, 25, 33, 40}, []float64{10, 10, 11, 15, 23, 30}, "row 0, columns 0–5 − 10 deg, clamped at 10 deg (4)"},
		{"all brought to one value", []float64{50, 44, 47, 52, 41, 43}, []float64{40, 40, 40, 40, 40, 40}, "row 0, columns 0–5 set to 40 deg (6)"},
		{"brought down to one value", []float64{50, 44, 47, 20, 30, 13}, []float64{40, 40, 40, 20, 30, 13}, "row 0, columns 0–2 clamped at 40 deg (3)"},
		{"brought up to one value", []float64{11, 14, 17, 20, 30, 53}, []float64{20, 20, 20, 20, 30, 53}, "row 0, columns 0–2 clamped at 20 deg (3)"},
		{"one value before as after", []float64{50, 50, 50, 20, 30, 13}, []float64{40, 40, 40, 20, 30, 13}, "row 0, columns 0–2 − 10 deg (3)"},
		{"brought to a value that others pass", []float64{50, 44, 47, 20, 30, 53}, []float64{40, 40, 40, 20, 30, 53}, "row 0, columns 0–2 set to 40 deg (3)"},
	} {
		list, _ := find(curve(c.from, limits), curve(c.to, limits))
		if got := said(list); got != c.rule {
			t.Errorf("%s: %s, want %s", c.why, got, c.rule)
		}
	}
}

// TestNumbersOfRules: a rule's number is the plainest that rounding leaves open
// and that fits the cells well; two cells that only rounding joins over a third
// are chance.
func TestNumbersOfRules(t *testing.T) {
	for _, c := range []struct {
		why        string
		resolution float64
		from, to   []float64
		rules      string
	}{
		// Rounding leaves 1.03 to 1.05 open; least squares give 1.0395 ± 0.0047.
		{"a step of 5 % near what fits best", 1, []float64{20, 30, 50, 60}, []float64{21, 31, 52, 60}, "row 0, columns 0–2 × 1.05 (3)"},
		// The same is open, but 1.0403 ± 0.0025 fits best.
		{"a step of 5 % too far from it", 1, []float64{50, 50, 50, 50, 50, 20}, []float64{52, 52, 52, 52, 52, 21}, "row 0, columns 0–5 × 1.04 (6)"},
		{"a sum before a factor with more decimals", 0, []float64{20, 30, 50, 7}, []float64{22, 32, 52, 7}, "row 0, columns 0–2 + 2 deg (3)"},
		{"a factor of one decimal more", 0, []float64{20, 40, 80, 7}, []float64{20.5, 41, 82, 7}, "row 0, columns 0–2 × 1.025 (3)"},
		{"a factor below 0", 0, []float64{20, 40, 80, 7}, []float64{-20, -40, -80, 7}, "row 0, columns 0–2 × −1 (3)"},
		{"two sums of whole steps are two, not one between them", 1, []float64{20, 30, 7}, []float64{23, 32, 7}, ""},
		{"one sum of cells between steps, rounded to them", 1, []float64{20.3, 30.1, 7}, []float64{23, 32, 7}, "row 0, columns 0–1 + 2.3 deg (2)"},
		{"one value but for what the resolution hides", 0.5, []float64{20, 33, 51, 46}, []float64{7, 7.0001, 7, 46}, "row 0, columns 0–2 set to 7 deg (3)"},
		{"two cells side by side", 1, []float64{20, 50, 60, 60}, []float64{21, 52, 60, 60}, "row 0, columns 0–1 × 1.05 (2)"},
		{"what rounding would have kept belongs to it", 1, []float64{20, 50, 7, 7}, []float64{21, 52, 7, 7}, "row 0, columns 0–3 × 1.05 (2)"},
		{"two that rounding joins", 1, []float64{20, 1, 50, 7}, []float64{21, 1, 52, 7}, ""},
		{"three of them", 1, []float64{20, 1, 50, 40, 3}, []float64{21, 1, 52, 42, 3}, "row 0, columns 0–4 × 1.05 (3)"},
		{"a few far apart are chance", 0, []float64{20, 0, 0, 0, 0, 0, 0, 0, 40, 7}, []float64{21, 0, 0, 0, 0, 0, 0, 0, 42, 7}, ""},
		{"cells that had the value are not set to it", 0, []float64{20, 33, 51, 40, 40}, []float64{40, 40, 40, 40, 40}, "row 0, columns 0–2 set to 40 deg (3)"},
		{"two that a factor joins to the digit", 0, []float64{20, 0, 40, 7}, []float64{21, 0, 42, 7}, "row 0, columns 0–2 × 1.05 (2)"},
	} {
		step := func(f *tables.Fields) { f.Resolution = c.resolution }
		list, _ := find(curve(c.from, step), curve(c.to, step))
		if got := said(list); got != c.rules {
			t.Errorf("%s: %s, want %s", c.why, got, c.rules)
		}
	}
}

// TestChanceAmongNoise: in a table most of whose changes follow no rule, three
// cells that seem to are chance, and four are a rule.
func TestChanceAmongNoise(t *testing.T) {
	noise := []float64{1.37, 2.91, 4.73, 3.19, 7.77}
	for n, want := range map[int]string{3: "", 4: "row 0, columns 0–3 × 1.05 (4)"} {
		from, to := []float64{}, []float64{}
		for i := range n {
			from = append(from, float64(20*(i+1)))
			to = append(to, 1.05*float64(20*(i+1)))
		}
		for i, v := range noise {
			from, to = append(from, 100+17.3*float64(i*i)), append(to, 100+17.3*float64(i*i)+v)
		}
		list, loose := find(curve(from), curve(to))
		if got := said(list); got != want || len(loose) != len(noise)+3-3*len(list) {
			t.Errorf("%d cells: %q, want %q", n, got, want)
		}
	}
}

// TestEmptyCellsFollowNoRule: cells of averages that one drive lacks are listed,
// and the rule of the others is found around them.
func TestEmptyCellsFollowNoRule(t *testing.T) {
	none := math.NaN()
	list, loose := find(curve([]float64{none, none, 10, 20, 40}), curve([]float64{none, 7, 11, 22, 44}))
	if got := said(list); got != "row 0, columns 2–4 × 1.1 (3)" || fmt.Sprint(loose) != "[1]" {
		t.Errorf("%s, loose %v", got, loose)
	}
}

// TestRuleInWords: a sum of per cents is not to be read as a factor.
func TestRuleInWords(t *testing.T) {
	two, minus, factor := 2.0, -1.5, -0.5
	for _, c := range []struct {
		block      Block
		unit, want string
	}{
		{Block{Add: &two}, "%", "+ 2 percentage points"},
		{Block{Add: &minus}, "%", "− 1.5 percentage points"},
		{Block{Set: &two}, "%", "set to 2 %"},
		{Block{Add: &two}, "deg", "+ 2 deg"},
		{Block{Add: &two}, "", "+ 2"},
		{Block{Factor: &factor, Stopped: &two}, "deg", "× −0.5, clamped at 2 deg"},
	} {
		if got := c.block.Rule(c.unit); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
