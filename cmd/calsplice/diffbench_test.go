package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// BenchmarkAgainstGit reads, compares and writes 2 × 800,000 cells of which 5 %
// changed, and merges 3 of them, beside git doing so with a line a cell. It
// gives the time of ours as a share of git's in the same run.
func BenchmarkAgainstGit(b *testing.B) {
	if _, err := exec.LookPath("git"); err != nil {
		b.Skip("git is not installed")
	}
	dir := b.TempDir()
	for i, doc := range benchDocuments(b) {
		for _, name := range []string{"json", "csv"} {
			path := filepath.Join(dir, fmt.Sprintf("%d.%s", i, name))
			if err := tablefile.Write(path, doc, tablefile.Options{Long: name == "csv"}); err != nil {
				b.Fatal(err)
			}
		}
	}
	in := func(names ...string) []string {
		for i, n := range names {
			names[i] = filepath.Join(dir, n)
		}
		return names
	}
	for _, c := range []struct {
		name string
		ours []string
		git  []string
	}{
		{"diff", append([]string{"diff", "-o", filepath.Join(dir, "changes.json")}, in("0.json", "1.json")...),
			append([]string{"diff", "--no-index"}, in("0.csv", "1.csv")...)},
		{"merge", append([]string{"merge", "-o", filepath.Join(dir, "merged.json")}, in("0.json", "1.json", "2.json")...),
			append([]string{"merge-file", "-p"}, in("1.csv", "0.csv", "2.csv")...)},
	} {
		b.Run(c.name, func(b *testing.B) {
			var ours, git time.Duration
			for b.Loop() {
				start := time.Now()
				if status := run(c.ours, strings.NewReader(""), io.Discard, io.Discard); status == statusTrouble {
					b.Fatal("trouble")
				}
				ours += time.Since(start)
				start = time.Now()
				exec.Command("git", c.git...).Output() // its status is that of a difference
				git += time.Since(start)
			}
			b.ReportMetric(float64(ours)/float64(git), "of-git")
		})
	}
}

func benchDocuments(b *testing.B) (docs [3]*tables.Calibration) {
	r := rand.New(rand.NewPCG(1, 1))
	points := func(n int) *tables.Axis {
		p := make([]float64, n)
		for i := range p {
			p[i] = float64(i)
		}
		a, err := tables.NewAxis("load", "%", p)
		if err != nil {
			b.Fatal(err)
		}
		return a
	}
	var contents [3]tables.Contents
	for t := range 200 {
		f := tables.Fields{ID: fmt.Sprintf("t%03d", t), Unit: "deg", Resolution: 0.1, X: points(80), Y: points(50)}
		base := make([]float64, 4000)
		for i := range base {
			base[i] = float64(r.IntN(600)) / 10
		}
		for k := range contents {
			f.Values = append([]float64(nil), base...)
			for i := range f.Values {
				if k > 0 && r.IntN(20) == 0 {
					f.Values[i] = float64(r.IntN(600)) / 10
				}
			}
			table, err := tables.NewTable(f)
			if err != nil {
				b.Fatal(err)
			}
			contents[k].Tables = append(contents[k].Tables, table)
		}
	}
	for k, c := range contents {
		doc, err := tables.NewCalibration(c)
		if err != nil {
			b.Fatal(err)
		}
		docs[k] = doc
	}
	return docs
}
