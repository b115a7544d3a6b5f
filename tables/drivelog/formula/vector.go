package formula

import (
	"math"
	"slices"

	"github.com/expr-lang/expr/ast"
)

// The common part of the language runs over whole vectors: one plain loop for
// each operation, which costs less than a call for each row.

var missing = math.NaN()

// truth is a test's result as a number.
func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// vector compiles a tree into loops; nil where it holds what there is none for.
func vector(n ast.Node, names map[string]Node) Node {
	switch n := n.(type) {
	case *ast.IdentifierNode:
		return names[n.Value]
	case *ast.IntegerNode:
		return constant(float64(n.Value))
	case *ast.FloatNode:
		return constant(n.Value)
	case *ast.UnaryNode:
		return call(unaryOps[n.Operator], vector(n.Node, names))
	case *ast.BinaryNode:
		return join(binaryOps[n.Operator], vector(n.Left, names), vector(n.Right, names))
	case *ast.BuiltinNode:
		if op := functions[n.Name]; op != nil && len(n.Arguments) == 1 {
			return call(op, vector(n.Arguments[0], names))
		}
		op := extremes[n.Name]
		if op == nil || len(n.Arguments) == 0 {
			return nil
		}
		acc := vector(n.Arguments[0], names)
		for _, a := range n.Arguments[1:] {
			acc = join(op, acc, vector(a, names))
		}
		return acc
	}
	return nil
}

// constant is filled once and shared by all frames that are no longer.
func constant(c float64) Node {
	var out []float64
	return func(m *Machine) []float64 {
		if len(out) < m.n {
			out = slices.Repeat([]float64{c}, m.n+m.n/4)
		}
		return out[:m.n]
	}
}

// call applies a function to each value of x.
func call(op func(float64) float64, x Node) Node {
	if op == nil || x == nil {
		return nil
	}
	return func(m *Machine) []float64 {
		v, out := x(m), m.room()
		for i := range out {
			out[i] = op(v[i])
		}
		return out
	}
}

// loop fills dst from two vectors of its length. It cuts them to that, so that the
// compiler leaves out the checks of bounds.
type loop func(dst, a, b []float64)

// join applies a loop to two nodes; nil where one of the three is missing, so that
// what has no loop makes the whole tree run row by row.
func join(op loop, x, y Node) Node {
	if op == nil || x == nil || y == nil {
		return nil
	}
	return func(m *Machine) []float64 {
		a, b, out := x(m), y(m), m.room()
		op(out, a, b)
		return out
	}
}

// pairs is a loop over a function that is too large to write out.
func pairs(op func(a, b float64) float64) loop {
	return func(dst, a, b []float64) {
		a, b = a[:len(dst)], b[:len(dst)]
		for i := range dst {
			dst[i] = op(a[i], b[i])
		}
	}
}

func add(dst, a, b []float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] = a[i] + b[i]
	}
}

func subtract(dst, a, b []float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] = a[i] - b[i]
	}
}

func multiply(dst, a, b []float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] = a[i] * b[i]
	}
}

func divide(dst, a, b []float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] = a[i] / b[i]
	}
}

// ordered is a test of how two values compare: what it is of the first where it is the
// less, the same, or the more. The value that is no number comes last, since it is rare.
func ordered(less, same, more float64) loop {
	return func(dst, a, b []float64) {
		a, b = a[:len(dst)], b[:len(dst)]
		for i := range dst {
			switch x, y := a[i], b[i]; {
			case x < y:
				dst[i] = less
			case x > y:
				dst[i] = more
			case x == y:
				dst[i] = same
			default:
				dst[i] = missing
			}
		}
	}
}

func both(dst, a, b []float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		switch x, y := a[i], b[i]; {
		case x != x || y != y:
			dst[i] = missing
		case x != 0 && y != 0:
			dst[i] = 1
		default:
			dst[i] = 0
		}
	}
}

// binaryOps are the operators that have a loop. A loop of its own has what filters and
// trims are made of.
var binaryOps = map[string]loop{
	"+": add, "-": subtract, "*": multiply, "/": divide, "**": pairs(math.Pow), "^": pairs(math.Pow),
	"<": ordered(1, 0, 0), "<=": ordered(1, 1, 0), ">": ordered(0, 0, 1), ">=": ordered(0, 1, 1), "==": ordered(0, 1, 0), "!=": ordered(1, 0, 1),
	"&&": both, "and": both, "||": or, "or": or,
}

var or = pairs(func(a, b float64) float64 { return tested(a != 0 || b != 0, a, b) })

// tested is what a test of two values says, nothing where one of them is missing.
func tested(is bool, a, b float64) float64 {
	if a != a || b != b {
		return missing
	}
	return truth(is)
}

// not is the opposite of a test, or no value of none.
func not(a float64) float64 { return tested(a == 0, a, a) }

var unaryOps = map[string]func(a float64) float64{
	"-": func(a float64) float64 { return -a }, "+": func(a float64) float64 { return a }, "!": not, "not": not,
}

var functions = map[string]func(a float64) float64{
	"abs": math.Abs, "floor": math.Floor, "ceil": math.Ceil, "round": math.Round,
}

var extremes = map[string]loop{"max": pairs(math.Max), "min": pairs(math.Min)}
