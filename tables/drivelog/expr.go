package drivelog

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/vm"
)

// machine is what a compiled expression reads: aligned inputs, n rows of each.
type machine struct {
	frame int // its number, from 1
	n     int
	time  []float64
	in    [][]float64
}

// node computes one vector from the machine's inputs. Where any input is NaN,
// missing, so is the result: a comparison is 1, 0 or NaN. The vector is good
// until the node is called again.
type node func(m *machine) []float64

const maxExpression = 10000 // characters

// expression compiles text over channels. Arithmetic, comparisons and logic
// become loops over vectors; what else the language has runs row by row.
func (p *plan) expression(src string, level int) (node, error) {
	fail := func(err error) error { return exprError(src, err) }
	tree, err := parse(src)
	if err != nil {
		return nil, err
	}
	ids := &identifiers{}
	ast.Walk(&tree.Node, ids)
	env := map[string]any{}
	nodes := map[string]node{}
	for _, name := range ids.names {
		n, err := p.value(name, level)
		if err != nil {
			return nil, err
		}
		nodes[name], env[name] = n, float64(0)
	}
	program, err := expr.Compile(src, expr.Env(env), expr.AsFloat64())
	if err != nil {
		var e error
		if program, e = expr.Compile(src, expr.Env(env), expr.AsBool()); e != nil {
			return nil, fail(err)
		}
	}
	if n, ok := fast(tree.Node, nodes); ok {
		return n, nil
	}
	if err := hopeless(program, ids.names); err != nil {
		return nil, fail(err)
	}
	return slow(program, ids.names, nodes), nil
}

// Check refuses a definition that can mean nothing in any log, used or not.
func (d Definition) Check() error {
	if !isOwnName(d.Name) {
		return errors.New("a name is lower-case letters, digits and _")
	}
	_, err := parse(d.Expr)
	return err
}

// Names are the names that a definition's expression uses, in order; none where
// it cannot be read.
func (d Definition) Names() []string {
	tree, err := parse(d.Expr)
	if err != nil {
		return nil
	}
	ids := &identifiers{}
	ast.Walk(&tree.Node, ids)
	return ids.names
}

// checkRings refuses definitions that are made of each other. One that uses its
// own name means the log's channel, or what had that name before.
func checkRings(let []Definition) error {
	const underWay, done = 1, 2
	state := make([]int, len(let))
	var path []string
	var visit func(i int) error
	visit = func(i int) error {
		state[i], path = underWay, append(path, let[i].Name)
		for _, name := range let[i].Names() {
			j := usedBy(let, i, name)
			switch {
			case j < 0 || j == i || state[j] == done:
			case state[j] == underWay:
				ring := path[slices.Index(path, name):]
				return fmt.Errorf("--let goes round in a ring: %s → %s", strings.Join(ring, " → "), name)
			default:
				if err := visit(j); err != nil {
					return err
				}
			}
		}
		state[i], path = done, path[:len(path)-1]
		return nil
	}
	for i := range let {
		if state[i] == 0 {
			if err := visit(i); err != nil {
				return err
			}
		}
	}
	return nil
}

// usedBy is the definition that definition i means by a name: the last before it,
// or itself or one behind it, which it cannot use; −1 where there is none.
func usedBy(let []Definition, i int, name string) int {
	for j := i - 1; j >= 0; j-- {
		if let[j].Name == name {
			return j
		}
	}
	if k := slices.IndexFunc(let[i:], func(d Definition) bool { return d.Name == name }); k >= 0 {
		return i + k
	}
	return -1
}

func parse(src string) (*parser.Tree, error) {
	if len(src) > maxExpression {
		return nil, exprError(src, fmt.Errorf("it is longer than %d characters", maxExpression))
	}
	tree, err := parser.Parse(src)
	if err != nil {
		return nil, exprError(src, err)
	}
	return tree, nil
}

func exprError(src string, err error) error {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return fmt.Errorf("expression %s: %s", tables.Quote(src), line)
}

// hopeless is the error of a program that fails whatever it is given, as one
// that wants a list of a thousand million numbers: without it every row would
// be without a value, and nobody told why.
func hopeless(program *vm.Program, names []string) error {
	var last error
	env := map[string]any{}
	for _, v := range []float64{1, 0, 1000.5} {
		for _, name := range names {
			env[name] = v
		}
		if _, last = expr.Run(program, env); last == nil {
			return nil
		}
	}
	return last
}

// identifiers collects the names that an expression uses, in order.
type identifiers struct{ names []string }

func (v *identifiers) Visit(n *ast.Node) {
	if id, ok := (*n).(*ast.IdentifierNode); ok && !slices.Contains(v.names, id.Value) {
		v.names = append(v.names, id.Value)
	}
}

// slow runs the expression language's own machine for each row.
func slow(program *vm.Program, names []string, nodes map[string]node) node {
	var out []float64
	env := map[string]any{}
	return func(m *machine) []float64 {
		out = resize(out, m.n)
		in := make([][]float64, len(names))
		for k, name := range names {
			in[k] = nodes[name](m)
		}
		for i := range out {
			out[i] = noReading
			missing := false
			for k, name := range names {
				v := in[k][i]
				missing = missing || v != v
				env[name] = v
			}
			if missing {
				continue
			}
			v, err := expr.Run(program, env)
			switch v := v.(type) {
			case float64:
				out[i] = v
			case bool:
				out[i] = truth(v)
			}
			if err != nil {
				out[i] = noReading
			}
		}
		return out
	}
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func resize[T any](v []T, n int) []T {
	if cap(v) < n {
		return make([]T, n, n+n/4)
	}
	return v[:n]
}

// fast compiles the common part of the language into loops.
func fast(n ast.Node, names map[string]node) (node, bool) {
	switch n := n.(type) {
	case *ast.IdentifierNode:
		f, ok := names[n.Value]
		return f, ok
	case *ast.IntegerNode:
		return constant(float64(n.Value)), true
	case *ast.FloatNode:
		return constant(n.Value), true
	case *ast.UnaryNode:
		x, ok := fast(n.Node, names)
		op, known := unaryOps[n.Operator]
		if !ok || !known {
			return nil, false
		}
		return mapped(x, op), true
	case *ast.BinaryNode:
		return fastBinary(n, names)
	case *ast.BuiltinNode:
		if len(n.Arguments) == 1 {
			op, known := functions[n.Name]
			x, ok := fast(n.Arguments[0], names)
			return mapped(x, op), known && ok
		}
		return fastExtreme(n, names)
	}
	return nil, false
}

func fastExtreme(n *ast.BuiltinNode, names map[string]node) (node, bool) {
	op := map[string]func(a, b float64) float64{"max": math.Max, "min": math.Min}[n.Name]
	if op == nil || len(n.Arguments) == 0 {
		return nil, false
	}
	acc, ok := fast(n.Arguments[0], names)
	for _, a := range n.Arguments[1:] {
		x, good := fast(a, names)
		if !ok || !good {
			return nil, false
		}
		acc = joined(acc, x, op)
	}
	return acc, ok
}

func fastBinary(n *ast.BinaryNode, names map[string]node) (node, bool) {
	x, ok := fast(n.Left, names)
	if !ok {
		return nil, false
	}
	if c, isConst := number64(n.Right); isConst {
		if f := withConstant(n.Operator, x, c); f != nil {
			return f, true
		}
	}
	y, ok := fast(n.Right, names)
	op, known := binaryOps[n.Operator]
	if !ok || !known {
		return nil, false
	}
	return joined(x, y, op), true
}

func number64(n ast.Node) (float64, bool) {
	switch n := n.(type) {
	case *ast.IntegerNode:
		return float64(n.Value), true
	case *ast.FloatNode:
		return n.Value, true
	case *ast.UnaryNode:
		if v, ok := number64(n.Node); ok && n.Operator == "-" {
			return -v, true
		}
	}
	return 0, false
}

func constant(c float64) node {
	var out []float64
	return func(m *machine) []float64 {
		if len(out) < m.n {
			out = resize(out, m.n)
			out = out[:cap(out)]
			for i := range out {
				out[i] = c
			}
		}
		return out[:m.n]
	}
}

// withConstant is the plain comparison of a value with a number, the commonest
// filter, in a loop of its own.
func withConstant(op string, x node, c float64) node {
	var out []float64
	loop := func(test func(dst, src []float64)) node {
		return func(m *machine) []float64 {
			src := x(m)
			out = resize(out, m.n)
			test(out, src)
			return out
		}
	}
	switch op {
	case ">=":
		return loop(func(dst, src []float64) {
			for i, v := range src {
				switch {
				case v >= c:
					dst[i] = 1
				case v != v:
					dst[i] = v
				default:
					dst[i] = 0
				}
			}
		})
	case ">":
		return loop(func(dst, src []float64) {
			for i, v := range src {
				switch {
				case v > c:
					dst[i] = 1
				case v != v:
					dst[i] = v
				default:
					dst[i] = 0
				}
			}
		})
	}
	return nil
}

func mapped(x node, op func(float64) float64) node {
	var out []float64
	return func(m *machine) []float64 {
		v := x(m)
		out = resize(out, m.n)
		for i := range out {
			out[i] = op(v[i])
		}
		return out
	}
}

func joined(x, y node, op func(a, b float64) float64) node {
	var out []float64
	return func(m *machine) []float64 {
		a, b := x(m), y(m)
		out = resize(out, m.n)
		for i := range out {
			out[i] = op(a[i], b[i])
		}
		return out
	}
}

// test makes a comparison that is NaN where a side is.
func test(op func(a, b float64) bool) func(a, b float64) float64 {
	return func(a, b float64) float64 {
		if a != a || b != b {
			return noReading
		}
		return truth(op(a, b))
	}
}

var binaryOps = map[string]func(a, b float64) float64{
	"+":   func(a, b float64) float64 { return a + b },
	"-":   func(a, b float64) float64 { return a - b },
	"*":   func(a, b float64) float64 { return a * b },
	"/":   func(a, b float64) float64 { return a / b },
	"**":  math.Pow,
	"^":   math.Pow,
	">":   test(func(a, b float64) bool { return a > b }),
	">=":  test(func(a, b float64) bool { return a >= b }),
	"<":   test(func(a, b float64) bool { return a < b }),
	"<=":  test(func(a, b float64) bool { return a <= b }),
	"==":  test(func(a, b float64) bool { return a == b }),
	"!=":  test(func(a, b float64) bool { return a != b }),
	"&&":  test(func(a, b float64) bool { return a != 0 && b != 0 }),
	"and": test(func(a, b float64) bool { return a != 0 && b != 0 }),
	"||":  test(func(a, b float64) bool { return a != 0 || b != 0 }),
	"or":  test(func(a, b float64) bool { return a != 0 || b != 0 }),
}

var unaryOps = map[string]func(a float64) float64{
	"-":   func(a float64) float64 { return -a },
	"+":   func(a float64) float64 { return a },
	"!":   func(a float64) float64 { return test(func(a, _ float64) bool { return a == 0 })(a, 0) },
	"not": func(a float64) float64 { return test(func(a, _ float64) bool { return a == 0 })(a, 0) },
}

var functions = map[string]func(a float64) float64{
	"abs": math.Abs, "floor": math.Floor, "ceil": math.Ceil, "round": math.Round,
}

var errCircle = errors.New("it is defined by itself")
