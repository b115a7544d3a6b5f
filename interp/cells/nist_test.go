package cells

import (
	"encoding/json"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
)

// Means and standard deviations agree with the certified values of NIST's
// Statistical Reference Datasets (univariate; testdata/nist/SOURCE.md): mean to
// 14 digits, deviation to 12; NumAcc3's to 9 and NumAcc4's to 8, which is what
// their data hold once they are doubles: the deviation is the exact one of
// those doubles, to 14 digits.
func TestNIST(t *testing.T) {
	var certified struct {
		Univariate map[string]struct {
			File, Mean, SD string
			N              int
		}
	}
	dir := filepath.Join("..", "..", "testdata", "nist")
	raw, err := os.ReadFile(filepath.Join(dir, "certified.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &certified); err != nil {
		t.Fatal(err)
	}
	if len(certified.Univariate) < 8 {
		t.Fatalf("%d sets, want 8", len(certified.Univariate))
	}
	for name, set := range certified.Univariate {
		raw, err := os.ReadFile(filepath.Join(dir, set.File))
		if err != nil {
			t.Fatal(err)
		}
		// The numbers follow the last line that begins "Data:" and a rule.
		lines := strings.Split(string(raw[strings.LastIndex(string(raw), "\nData:")+1:]), "\n")
		data := strings.Join(lines[2:], "\n")
		var whole []sample
		for _, f := range strings.Fields(data) {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			whole = append(whole, sample{len(whole) / 7, 0, 0, []float64{v}})
		}
		if len(whole) != set.N {
			t.Fatalf("%s: %d numbers, want %d", name, len(whole), set.N)
		}
		// As one log, and as three on three workers.
		for _, logs := range [][][]sample{{whole}, {whole[:1], whole[1 : set.N/2], whole[set.N/2:]}} {
			d := document(t, fill(t, logtest.Axis(t, "load", 0), nil, Nearest, []string{"trim"}, logs...))
			digits := 12.0
			switch name {
			case "NumAcc3":
				digits = 9
			case "NumAcc4":
				digits = 8
			}
			if got, want := d.Table("trim.sd").At(0, 0), rationalSD(whole); math.Abs(got/want-1) > 1e-14 {
				t.Errorf("%s: sd is %v, that of the doubles is %v", name, got, want)
			}
			for _, c := range []struct {
				statistic, want string
				digits          float64
			}{{"mean", set.Mean, 14}, {"sd", set.SD, digits}} {
				want, _ := strconv.ParseFloat(c.want, 64)
				got := d.Table("trim."+c.statistic).At(0, 0)
				if lre := -math.Log10(math.Abs(got-want) / math.Abs(want)); lre < c.digits {
					t.Errorf("%s: %s is %v, want %s: %.1f digits agree, want %v", name, c.statistic, got, c.want, lre, c.digits)
				}
			}
		}
	}
}

// rationalSD is the standard deviation by exact fractions.
func rationalSD(log []sample) float64 {
	sum, square, n := new(big.Rat), new(big.Rat), big.NewRat(int64(len(log)), 1)
	for _, s := range log {
		v := new(big.Rat).SetFloat64(s.v[0])
		sum.Add(sum, v)
		square.Add(square, new(big.Rat).Mul(v, v))
	}
	// (n·Σv² − (Σv)²) / (n·(n − 1))
	below := new(big.Rat).Mul(n, new(big.Rat).Sub(n, big.NewRat(1, 1)))
	variance := new(big.Rat).Sub(new(big.Rat).Mul(n, square), new(big.Rat).Mul(sum, sum))
	v, _ := variance.Quo(variance, below).Float64()
	return math.Sqrt(v)
}
