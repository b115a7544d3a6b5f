package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/constant"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// site is one mistake at one place.
type site struct {
	number, line     int
	file, fn         string // fn is the function that it stands in
	what, before, to string
	killer           string // a test that noticed
}

// key names a mistake without its line, which moves.
func (s *site) key(folder string) string {
	one := func(text string) string { return strings.Join(strings.Fields(text), " ") }
	return fmt.Sprintf("%s/%s %s: %s → %s", folder, s.file, s.fn, one(s.before), one(s.to))
}

// source is a package's own files, parsed and typed.
type source struct {
	name  string
	fset  *token.FileSet
	files map[string]*ast.File
	texts map[string][]byte
	info  *types.Info

	sites []*site
}

// load reads a package with the types of its imports, as go list has built them.
func load(root, folder string) (*source, error) {
	cmd := exec.Command("go", "list", "-export", "-deps", "-json=ImportPath,Export,Dir,GoFiles,Name", "./"+folder)
	cmd.Dir = root
	cmd.Stderr = os.Stderr
	said, err := cmd.Output()
	if err != nil {
		return nil, err
	}
	type listed struct {
		ImportPath, Export, Dir, Name string
		GoFiles                       []string
	}
	exports := map[string]string{}
	var own listed
	for d := json.NewDecoder(bytes.NewReader(said)); ; {
		var l listed
		if err := d.Decode(&l); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		exports[l.ImportPath], own = l.Export, l // the package itself comes last
	}
	p := &source{name: own.Name, fset: token.NewFileSet(), files: map[string]*ast.File{}, texts: map[string][]byte{},
		info: &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}}
	var files []*ast.File
	for _, name := range own.GoFiles {
		text, err := os.ReadFile(filepath.Join(own.Dir, name))
		if err != nil {
			return nil, err
		}
		f, err := parser.ParseFile(p.fset, name, text, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		p.files[name], p.texts[name] = f, text
		files = append(files, f)
	}
	conf := types.Config{Importer: importer.ForCompiler(p.fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })}
	_, err = conf.Check(own.ImportPath, p.fset, files, p.info)
	return p, err
}

// wrap is a node that gets mistakes: what it becomes is made of its own text,
// in which the nodes inside it may have theirs.
type wrap struct {
	from, to int
	build    func(inner string) string
}

// mutate makes the texts of all files, with every mistake in them.
func (p *source) mutate() ([]*site, map[string]string) {
	texts := map[string]string{}
	names := make([]string, 0, len(p.files))
	for name := range p.files {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		f := &file{source: p, name: name, text: string(p.texts[name])}
		f.walk()
		if len(f.wraps) > 0 {
			slices.SortStableFunc(f.wraps, func(a, b wrap) int {
				if a.from != b.from {
					return a.from - b.from
				}
				return b.to - a.to
			})
			texts[name] = f.render(0, len(f.text), &f.wraps)
		}
	}
	return p.sites, texts
}

type file struct {
	*source
	name, text, fn string
	wraps          []wrap
}

// render is the text between two places with what wraps make of it.
func (f *file) render(from, to int, wraps *[]wrap) string {
	var b strings.Builder
	for len(*wraps) > 0 && (*wraps)[0].from < to {
		w := (*wraps)[0]
		*wraps = (*wraps)[1:]
		b.WriteString(f.text[from:w.from])
		b.WriteString(w.build(f.render(w.from, w.to, wraps)))
		from = w.to
	}
	b.WriteString(f.text[from:to])
	return b.String()
}

func (f *file) at(p token.Pos) int { return f.fset.Position(p).Offset }

func (f *file) of(n ast.Node) string { return f.text[f.at(n.Pos()):f.at(n.End())] }

// add makes a mistake and returns its number.
func (f *file) add(n ast.Node, what, to string) int {
	s := &site{number: len(f.sites) + 1, line: f.fset.Position(n.Pos()).Line, file: f.name, fn: f.fn, what: what, before: f.of(n), to: to}
	f.sites = append(f.sites, s)
	return s.number
}

// walk visits every function for its mistakes.
func (f *file) walk() {
	for _, d := range f.files[f.name].Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || fn.Body == nil {
			continue
		}
		f.fn = fn.Name.Name
		ast.Inspect(fn.Body, func(n ast.Node) bool {
			switch n := n.(type) {
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
	f.wraps = append(f.wraps, wrap{f.at(n.Pos()), f.at(n.End()), func(inner string) string {
		return "(func() " + kind + " { " + b.String() + "return " + inner + " }())"
	}})
}

// never makes a condition that never holds. Checks of err are left alone.
func (f *file) never(cond ast.Expr) {
	text := f.of(cond)
	if tv := f.info.Types[cond]; tv.Value == nil && !strings.HasPrefix(text, "err ") && !strings.HasPrefix(text, "err.") && basic(tv.Type) == "bool" {
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
	tv := f.info.Types[n]
	kind := basic(tv.Type)
	if tv.Value != nil || kind == "" || kind == "string" || strings.HasPrefix(f.of(n), "err ") {
		return
	}
	left, right := f.of(n.X), f.of(n.Y)
	var list []alternative
	if n.Op == token.LAND || n.Op == token.LOR {
		list = append(list, alternative{"left side left out", right}, alternative{"right side left out", left})
	}
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
	tv := f.info.Types[e]
	if tv.Value == nil {
		return
	}
	kind := basic(tv.Type)
	value, _ := constant.Float64Val(constant.ToFloat(tv.Value))
	switch {
	case kind == "float64" && value != 0 && -1e100 < value && value < 1e100:
		f.expression(e, kind, alternative{"twice the constant", "2 * (" + f.of(e) + ")"})
	case kind == "float64" && value == 0 || kind == "int" && -1<<30 < value && value < 1<<30:
		f.expression(e, kind, alternative{"constant plus 1", f.of(e) + " + 1"})
	}
}

// basic is the name of a plain type of Go; "" for any other.
func basic(t types.Type) string {
	if b, ok := t.(*types.Basic); ok && b.Kind() != types.UntypedNil {
		return strings.TrimPrefix(types.Default(b).(*types.Basic).Name(), "untyped ")
	}
	return ""
}

// statements leaves statements out, one at a time.
func (f *file) statements(list []ast.Stmt) {
	for _, s := range list {
		if !removable(s) || strings.HasPrefix(f.of(s), "err = ") {
			continue
		}
		number := f.add(s, "statement left out", "")
		f.wraps = append(f.wraps, wrap{f.at(s.Pos()), f.at(s.End()), func(inner string) string {
			return fmt.Sprintf("if !mutantIs(%d) { %s }", number, inner)
		}})
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
