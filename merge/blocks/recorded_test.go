package blocks

import (
	"bufio"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

var update = flag.Bool("update", false, "write what is found into testdata")

// sketch is a table before and after as testdata/blocks.txt has it: columns,
// resolution, limits and, cell by cell, the value or "was→is". "?" is empty.
type sketch struct {
	columns    int
	resolution float64
	low, high  float64 // both 0 for none
	old, new   []float64
}

func number(s string) float64 {
	if s == "?" {
		return math.NaN()
	}
	return tabletest.Must(strconv.ParseFloat(s, 64))
}

func readSketch(line string) (k sketch) {
	words := strings.Fields(line)
	k.columns = int(number(words[0]))
	k.resolution, k.low, k.high = number(words[1]), number(words[2]), number(words[3])
	for _, w := range words[4:] {
		was, is, edited := strings.Cut(w, "→")
		if !edited {
			is = was
		}
		k.old, k.new = append(k.old, number(was)), append(k.new, number(is))
	}
	return k
}

func (k sketch) table(values []float64) *tables.Table {
	f := tables.Fields{ID: "t", Unit: "deg", Resolution: k.resolution, X: count(k.columns), Y: count(len(values) / k.columns), Values: values}
	if k.low != 0 || k.high != 0 {
		f.Limits = &tables.Limits{Low: k.low, High: k.high}
	}
	return tabletest.Must(tables.NewTable(f))
}

// words is what is found: the blocks, and the cells that none explains.
func (k sketch) words() string {
	list, loose := find(k.table(k.old), k.table(k.new))
	var words []string
	for _, b := range list {
		w := fmt.Sprintf("%s %s (%d", b.Place(), b.Rule(""), b.Changed)
		if b.Residual > 0 {
			w += ", ± " + tables.FormatValue(b.Residual)
		}
		words = append(words, w+")")
	}
	if len(loose) > 0 {
		words = append(words, fmt.Sprint("alone ", loose))
	}
	return strings.Join(words, "; ")
}

// TestRecordedBlocks holds what is found in small tables to what a person read
// and found right: each stands for a guard or a bound of the search that no
// other notices. A line is a table, the line behind it what is found.
func TestRecordedBlocks(t *testing.T) {
	name := filepath.Join("testdata", "blocks.txt")
	text := tabletest.Must(os.ReadFile(name))
	var out strings.Builder
	s := bufio.NewScanner(strings.NewReader(string(text)))
	for n := 1; s.Scan(); n++ {
		line := s.Text()
		fmt.Fprintln(&out, line)
		if strings.HasPrefix(line, "#") || line == "" {
			continue
		}
		got := readSketch(line).words()
		s.Scan()
		if n++; s.Text() != "  "+got && !*update {
			t.Errorf("%s:%d: %s\nfound %s\nwant %s", name, n, line, got, strings.TrimSpace(s.Text()))
		}
		fmt.Fprintln(&out, "  "+got)
	}
	if *update {
		if err := os.WriteFile(name, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
