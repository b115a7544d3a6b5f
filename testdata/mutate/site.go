package main

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"
)

// site is one mistake at one place.
type site struct {
	number, line     int
	file, fn         string // fn is the function that it stands in
	what, before, to string
	killer           string // a test that noticed
	tried            chan struct{}
}

// key names a mistake without its line, which moves.
func (s *site) key(folder string) string {
	one := func(text string) string { return strings.Join(strings.Fields(text), " ") }
	return fmt.Sprintf("%s/%s %s: %s → %s", folder, s.file, s.fn, one(s.before), one(s.to))
}

// source is a package's own files, parsed and typed.
type source struct {
	*packages.Package
	sites []*site
}

// load reads a package.
func load(root, folder string) (*source, error) {
	list, err := packages.Load(&packages.Config{Mode: packages.LoadSyntax, Dir: root}, "./"+folder)
	if err != nil {
		return nil, err
	}
	for _, p := range list {
		for _, bad := range p.Errors {
			return nil, bad
		}
	}
	return &source{Package: list[0]}, nil
}

// mutate makes the texts of all files, with every mistake in them.
func (p *source) mutate() ([]*site, map[string]string, error) {
	texts := map[string]string{}
	for i, tree := range p.Syntax {
		text, err := os.ReadFile(p.CompiledGoFiles[i])
		if err != nil {
			return nil, nil, err
		}
		f := &file{source: p, name: filepath.Base(p.CompiledGoFiles[i]), text: string(text)}
		f.walk(tree)
		if len(f.inserts) > 0 {
			texts[f.name] = f.render()
		}
	}
	return p.sites, texts, nil
}

// file is a file that gets its mistakes: text put in before and behind nodes,
// which may hold one another.
type file struct {
	*source
	name, text, fn string
	inserts        []insert
}

// insert is text to be put in. At one place what closes a node comes before what
// opens the next; of nodes that begin together the outer opens first, and of
// those that end together the inner closes first.
type insert struct {
	at, order int
	text      string
}

// around puts text round a node. Outer nodes must come before their inner ones.
func (f *file) around(n ast.Node, before, behind string) {
	k := len(f.inserts) + 1
	f.inserts = append(f.inserts, insert{f.at(n.Pos()), k, before}, insert{f.at(n.End()), -k, behind})
}

func (f *file) render() string {
	slices.SortFunc(f.inserts, func(a, b insert) int { return cmp.Or(a.at-b.at, a.order-b.order) })
	var b strings.Builder
	at := 0
	for _, i := range f.inserts {
		b.WriteString(f.text[at:i.at] + i.text)
		at = i.at
	}
	return b.String() + f.text[at:]
}

func (f *file) at(p token.Pos) int { return f.Fset.Position(p).Offset }

func (f *file) of(n ast.Node) string { return f.text[f.at(n.Pos()):f.at(n.End())] }

// add makes a mistake and returns its number.
func (f *file) add(n ast.Node, what, to string) int {
	s := &site{number: len(f.sites) + 1, line: f.Fset.Position(n.Pos()).Line, file: f.name, fn: f.fn, what: what, before: f.of(n), to: to}
	f.sites = append(f.sites, s)
	return s.number
}

// walk visits every function for its mistakes.
func (f *file) walk(tree *ast.File) {
	for _, d := range tree.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || fn.Body == nil {
			continue
		}
		f.fn = fn.Name.Name
		ast.Inspect(fn.Body, func(n ast.Node) bool {
			switch n := n.(type) {
			// A constant's own expression has to stay one.
			case *ast.GenDecl:
				return n.Tok != token.CONST
			case *ast.IfStmt:
				f.never(n.Cond)
			case *ast.SwitchStmt:
				if n.Tag == nil {
					for _, c := range n.Body.List {
						for _, e := range c.(*ast.CaseClause).List {
							f.never(e)
						}
					}
				}
			case *ast.BinaryExpr:
				f.binary(n)
			case *ast.UnaryExpr:
				if n.Op == token.NOT {
					f.expression(n, "bool", alternative{"not left out", f.of(n.X)})
				}
			case *ast.BlockStmt:
				f.statements(n.List)
			case *ast.CaseClause:
				f.statements(n.Body)
			}
			return true
		})
	}
}

// alternative is what an expression becomes by a mistake.
type alternative struct{ what, to string }

// expression wraps an expression in the choice of its alternatives.
func (f *file) expression(n ast.Expr, kind string, list ...alternative) {
	if len(list) == 0 || strings.Contains(f.of(n), "//") {
		return
	}
	var b strings.Builder
	for _, a := range list {
		fmt.Fprintf(&b, "if mutantIs(%d) { return %s }; ", f.add(n, a.what, a.to), a.to)
	}
	f.around(n, "(func() "+kind+" { "+b.String()+"return ", " }())")
}

// never makes a condition that never holds. Checks of err are left alone.
func (f *file) never(cond ast.Expr) {
	text := f.of(cond)
	// A condition of a named boolean type would not compile as the literal's.
	if tv := f.TypesInfo.Types[cond]; tv.Value == nil && !strings.HasPrefix(text, "err ") && !strings.HasPrefix(text, "err.") && basic(tv.Type) == "bool" {
		f.expression(cond, "bool", alternative{"condition never holds", "false"})
	}
}

// other are the operators that one may be mistaken for.
var other = map[token.Token][]token.Token{
	token.LSS: {token.LEQ}, token.LEQ: {token.LSS}, token.GTR: {token.GEQ}, token.GEQ: {token.GTR},
	token.EQL: {token.NEQ}, token.NEQ: {token.EQL},
	token.ADD: {token.SUB}, token.SUB: {token.ADD}, token.MUL: {token.QUO}, token.QUO: {token.MUL},
}

func (f *file) binary(n *ast.BinaryExpr) {
	tv := f.TypesInfo.Types[n]
	kind := basic(tv.Type)
	// Strings have one operator, and no other to be mistaken for.
	if tv.Value != nil || kind == "" || kind == "string" || strings.HasPrefix(f.of(n), "err ") {
		return
	}
	left, right := f.of(n.X), f.of(n.Y)
	var list []alternative
	if n.Op == token.LAND || n.Op == token.LOR {
		list = append(list, alternative{"left side left out", right}, alternative{"right side left out", left})
	}
	// Text, not a tree: what stands behind the operator keeps its comments and lines.
	rest := f.text[f.at(n.OpPos)+len(n.Op.String()) : f.at(n.End())]
	if strings.HasPrefix(rest, "*") {
		rest = " " + rest // a slash before a pointer would begin a comment
	}
	for _, op := range other[n.Op] {
		list = append(list, alternative{fmt.Sprintf("%s for %s", op, n.Op), f.text[f.at(n.Pos()):f.at(n.OpPos)] + op.String() + rest})
	}
	f.expression(n, kind, list...)
	if other[n.Op] != nil {
		f.constant(n.X)
		f.constant(n.Y)
	}
}

// constant makes another number of a constant beside an operator.
func (f *file) constant(e ast.Expr) {
	tv := f.TypesInfo.Types[e]
	if tv.Value == nil {
		return
	}
	kind := basic(tv.Type)
	value, _ := constant.Float64Val(constant.ToFloat(tv.Value))
	switch {
	// Twice the number, where that is another; a sum where it is not, or of counts.
	case kind == "float64" && value != 0 && -1e100 < value && value < 1e100:
		f.expression(e, kind, alternative{"twice the constant", "2 * (" + f.of(e) + ")"})
	case kind == "float64" && value == 0 || kind == "int" && -1<<30 < value && value < 1<<30:
		f.expression(e, kind, alternative{"constant plus 1", f.of(e) + " + 1"})
	}
}

// basic is the name of a plain type of Go; "" for any other.
func basic(t types.Type) string {
	// Only of plain types can an alternative be returned from a literal function
	// without naming a type that another package keeps to itself.
	if b, ok := t.(*types.Basic); ok && b.Kind() != types.UntypedNil {
		return strings.TrimPrefix(types.Default(b).(*types.Basic).Name(), "untyped ")
	}
	return ""
}

// statements leaves statements out, one at a time.
func (f *file) statements(list []ast.Stmt) {
	for _, s := range list {
		// As with conditions on err: few tests can make these fail.
		if !removable(s) || strings.HasPrefix(f.of(s), "err = ") {
			continue
		}
		f.around(s, fmt.Sprintf("if !mutantIs(%d) { ", f.add(s, "statement left out", "")), " }")
	}
}

// removable statements are those without which a function still compiles, and
// ends: what waits or lets others go on stays.
func removable(s ast.Stmt) bool {
	switch s := s.(type) {
	case *ast.IncDecStmt:
		return true
	case *ast.BranchStmt:
		return s.Tok == token.CONTINUE || s.Tok == token.BREAK
	case *ast.AssignStmt:
		return s.Tok != token.DEFINE
	case *ast.ExprStmt:
		call, ok := s.X.(*ast.CallExpr)
		if !ok {
			return false
		}
		switch fun := call.Fun.(type) {
		case *ast.Ident:
			return fun.Name != "panic" && fun.Name != "close"
		case *ast.SelectorExpr:
			return !slices.Contains([]string{"Lock", "Unlock", "Wait", "Done", "Close", "Fatal", "Exit"}, fun.Sel.Name)
		}
	}
	return false
}
