package formula

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/vm"
)

// Machine is what a compiled expression reads: aligned inputs, N rows of each.
type Machine struct {
	Time []float64
	In   [][]float64

	frame, n int
	vectors  [][]float64 // what nodes compute, and room for more
	used     int
}

// Begin begins a frame of so many rows. Frames have numbers, from 1, that differ among
// all machines on which a node runs.
func (m *Machine) Begin(frame, rows int) { m.frame, m.n, m.used = frame, rows, 0 }

// room is a vector of a number for each row, of which nothing is promised.
func (m *Machine) room() []float64 {
	if m.used == len(m.vectors) {
		m.vectors = append(m.vectors, nil)
	}
	v := &m.vectors[m.used]
	m.used++
	if cap(*v) < m.n {
		*v = make([]float64, m.n+m.n/4)
	}
	*v = (*v)[:m.n]
	return *v
}

// Node computes one vector from the machine's inputs. Where any input is NaN,
// missing, so is the result: a comparison is 1, 0 or NaN. The vector is good
// until the machine begins another frame.
type Node func(m *Machine) []float64

// maxExpression bounds the time that a hostile expression takes to compile.
const maxExpression = 10000 // characters

// Compile compiles an expression over names, each of which value resolves.
// Arithmetic, comparisons and logic become loops over vectors; what else the
// language has runs row by row.
func Compile(src string, value func(name string) (Node, error)) (Node, error) {
	fail := func(err error) error { return exprError(src, err) }
	tree, names, err := parse(src)
	if err != nil {
		return nil, err
	}
	env := map[string]any{}
	nodes := map[string]Node{}
	for _, name := range names {
		n, err := value(name)
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
	if n := vector(tree.Node, nodes); n != nil {
		return n, nil
	}
	if err := alwaysFails(program, names); err != nil {
		return nil, fail(err)
	}
	return rowByRow(program, names, nodes), nil
}

// parse reads an expression, and lists the names that it uses, in order.
func parse(src string) (*parser.Tree, []string, error) {
	if len(src) > maxExpression {
		return nil, nil, exprError(src, fmt.Errorf("it is longer than %d characters", maxExpression))
	}
	tree, err := parser.Parse(src)
	if err != nil {
		return nil, nil, exprError(src, err)
	}
	ids := &identifiers{}
	if ast.Walk(&tree.Node, ids); ids.refused != nil {
		return nil, nil, exprError(src, ids.refused)
	}
	return tree, ids.names, nil
}

// exprError names the expression, and keeps the first line of an error: the parser's
// own goes on to draw the place.
func exprError(src string, err error) error {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return fmt.Errorf("expression %s: %s", tables.Quote(src), line)
}

// identifiers collects names while a tree is walked, and refuses what the language has not,
// or has in another meaning than a person who writes it down in a hurry.
type identifiers struct {
	names   []string
	refused error
}

// Visit takes one node of the expression.
func (v *identifiers) Visit(n *ast.Node) {
	switch n := (*n).(type) {
	case *ast.IdentifierNode:
		if !slices.Contains(v.names, n.Value) {
			v.names = append(v.names, n.Value)
		}
	case *ast.CallNode:
		v.refused = fmt.Errorf("there is no function %s, but abs, ceil, floor, max, min and round; ^ 0.5 is the square root", tables.Quote(n.Callee.String()))
	case *ast.SequenceNode:
		v.refused = errors.New("; keeps only what follows it, expected && between conditions")
	case *ast.BinaryNode:
		if span, ok := n.Right.(*ast.BinaryNode); ok && n.Operator == "in" && span.Operator == ".." {
			v.refused = fmt.Errorf("%s holds whole numbers only, expected %s <= %s <= %s", span, span.Left, n.Left, span.Right)
		}
	}
}

// alwaysFails is the error of a program that fails whatever it is given, such as
// one that needs a list of a thousand million numbers. Without this check every
// row would be empty, with no explanation.
func alwaysFails(program *vm.Program, names []string) error {
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

// rowByRow runs the expression language's own machine for each row. A row on
// which it fails has no value.
func rowByRow(program *vm.Program, names []string, nodes map[string]Node) Node {
	inputs := make([]Node, len(names))
	for k, name := range names {
		inputs[k] = nodes[name]
	}
	env := map[string]any{}
	return Rows(inputs, func(in []float64) float64 {
		for k, name := range names {
			env[name] = in[k]
		}
		v, err := expr.Run(program, env)
		switch v := v.(type) {
		case float64:
			if err == nil {
				return v
			}
		case bool:
			if err == nil {
				return truth(v)
			}
		}
		return missing
	})
}

// Rows computes a value from each row of the inputs; where one of them is missing,
// so is the value.
func Rows(inputs []Node, value func(in []float64) float64) Node {
	row, columns := make([]float64, len(inputs)), make([][]float64, len(inputs))
	return func(m *Machine) []float64 {
		for k, f := range inputs {
			columns[k] = f(m)
		}
		out := m.room()
		for i := range out {
			gone := false
			for k := range columns {
				row[k] = columns[k][i]
				gone = gone || row[k] != row[k]
			}
			if out[i] = missing; !gone {
				out[i] = value(row)
			}
		}
		return out
	}
}

// Once keeps what a node computed until the next frame.
func Once(run Node) Node {
	var frame int
	var out []float64
	return func(m *Machine) []float64 {
		if frame != m.frame {
			frame, out = m.frame, run(m)
		}
		return out
	}
}
