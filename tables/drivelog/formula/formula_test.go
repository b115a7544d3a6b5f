package formula

import (
	"fmt"
	"math"
	"testing"

	"github.com/expr-lang/expr"
	"pgregory.net/rapid"
)

// lawLoops: the loops compute what the expression language's own machine does, row
// by row; where a value is missing there is none. (What is computed and is no number,
// as 0 / 0, counts as missing too, which that machine does not know.)
func lawLoops(t *rapid.T) {
	var draw func(depth int) (text string, truth bool)
	draw = func(depth int) (string, bool) {
		if depth == 0 {
			return rapid.SampledFrom([]string{"a", "b", "2", "0.5"}).Draw(t, "leaf"), false
		}
		x, _ := draw(depth - 1)
		y, _ := draw(depth - 1)
		if rapid.IntRange(0, 4).Draw(t, "call") == 0 {
			return fmt.Sprintf(rapid.SampledFrom([]string{"abs(%s)", "floor(%s)", "-(%s)", "ceil(%s)", "(%s / 4)", "(%s ** 2)"}).Draw(t, "function"), x), false
		}
		op := rapid.SampledFrom([]string{"+", "-", "*", "max", "min"}).Draw(t, "operator")
		if op == "max" || op == "min" {
			return fmt.Sprintf("%s(%s, %s)", op, x, y), false
		}
		return fmt.Sprintf("(%s %s %s)", x, op, y), false
	}
	side := func() string { s, _ := draw(rapid.IntRange(0, 2).Draw(t, "depth")); return s }
	test := func() string {
		return side() + rapid.SampledFrom([]string{" < ", " <= ", " > ", " >= ", " == ", " != "}).Draw(t, "test") + side()
	}
	src := rapid.SampledFrom([]func() string{side, test,
		func() string { return "(" + test() + ") && (" + test() + ")" },
		func() string { return "(" + test() + ") or not (" + test() + ")" }}).Draw(t, "form")()
	value := rapid.OneOf(rapid.SampledFrom([]float64{0, 1, 2, 0.5, -1, math.NaN()}), rapid.Float64Range(-5, 5))
	n := rapid.IntRange(1, 20).Draw(t, "rows")
	in := map[string][]float64{"a": rapid.SliceOfN(value, n, n).Draw(t, "a"), "b": rapid.SliceOfN(value, n, n).Draw(t, "b")}
	used := map[string]bool{}
	run, err := Compile(src, func(name string) (Node, error) {
		used[name] = true
		return func(*Machine) []float64 { return in[name] }, nil
	})
	if err != nil {
		t.Fatal(src, err)
	}
	var m Machine
	m.Begin(1, n)
	got := run(&m)
	for i := range n {
		env, want := map[string]any{"a": in["a"][i], "b": in["b"][i]}, math.NaN()
		if !(used["a"] && math.IsNaN(in["a"][i])) && !(used["b"] && math.IsNaN(in["b"][i])) {
			program, err := expr.Compile(src, expr.Env(env))
			if err != nil {
				t.Fatal(src, err)
			}
			v, err := expr.Run(program, env)
			if err != nil { // it takes min(2, a) for a whole number; the loops do not
				continue
			}
			switch v := v.(type) {
			case float64:
				want = v
			case int:
				want = float64(v)
			case bool:
				want = truth(v)
			}
		}
		if got[i] != want && !(math.IsNaN(got[i]) && math.IsNaN(want)) {
			t.Fatalf("%s of %v is %v, want %v", src, env, got[i], want)
		}
	}
}

func TestLoops(t *testing.T) { rapid.Check(t, lawLoops) }
func FuzzLoops(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawLoops)) }
