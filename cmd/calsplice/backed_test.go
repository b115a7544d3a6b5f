package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestPromisesAreBacked: the README's table of promises names the tests whose
// assertions are marked with the promise, "// promise: never torn" at the end of
// their line, all of them and no others. So a promise loses its test's name with
// the last assertion that holds the program to it.
func TestPromisesAreBacked(t *testing.T) {
	file, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	readme := string(file)
	_, section, found := strings.Cut(readme, "\n## What it promises\n")
	if !found {
		t.Fatal("the README has no section on what the program promises")
	}
	section, _, _ = strings.Cut(section, "\n## ")
	backing := markedTests(t)
	promises := 0
	for line := range strings.Lines(section) {
		if !strings.HasPrefix(line, "| **") {
			continue
		}
		promises++
		head, tests, _ := strings.Cut(strings.TrimSuffix(line, " |\n"), " | ")
		_, name, _ := strings.Cut(head, "**")
		name, _, _ = strings.Cut(strings.ToLower(name), "**")
		name = strings.Trim(name, ".,")
		want := backing[name].String()
		delete(backing, name)
		switch {
		case want == "":
			t.Errorf("no assertion is marked %q", "promise: "+name)
		case *update:
			readme = strings.Replace(readme, line, head+" | "+want+" |\n", 1)
		case tests != want:
			t.Errorf("%s: the README names\n%s\nand the marks are in\n%s", name, tests, want)
		}
	}
	for name := range backing {
		t.Errorf("the README has no promise %q, which assertions are marked with", name)
	}
	if promises < 8 {
		t.Errorf("%d promises, want eight at least", promises)
	}
	if *update {
		if err := os.WriteFile("../../README.md", []byte(readme), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// backers are the tests behind a promise, by folder.
type backers map[string][]string

func (b backers) String() string {
	var list []string
	for _, folder := range slices.Sorted(maps.Keys(b)) {
		slices.Sort(b[folder])
		list = append(list, "`"+folder+" "+strings.Join(slices.Compact(b[folder]), " ")+"`")
	}
	return strings.Join(list, ", ")
}

// markedTests finds the tests of the module in which assertions are marked, by
// promise.
func markedTests(t *testing.T) map[string]backers {
	found := map[string]backers{}
	packages := map[string][]*ast.File{}
	fset := token.NewFileSet()
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		f, err := parser.ParseFile(fset, path, nil, parser.ParseComments)
		folder := strings.TrimPrefix(filepath.ToSlash(filepath.Dir(path)), "../../")
		packages[folder] = append(packages[folder], f)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for folder, files := range packages {
		callers := callersOf(files)
		for _, f := range files {
			for _, group := range f.Comments {
				for _, c := range group.List {
					name, ok := strings.CutPrefix(c.Text, "// promise: ")
					if !ok {
						continue
					}
					fn := enclosing(f, c.Pos())
					if fn == nil || !asserts(fset, fn, c.Pos()) {
						t.Errorf("%v: the mark stands beside no assertion", fset.Position(c.Pos()))
						continue
					}
					if found[name] == nil {
						found[name] = backers{}
					}
					found[name][folder] = append(found[name][folder], testsThatCall(callers, fn.Name.Name, map[string]bool{})...)
				}
			}
		}
	}
	return found
}

func enclosing(f *ast.File, at token.Pos) *ast.FuncDecl {
	for _, d := range f.Decls {
		if fn, ok := d.(*ast.FuncDecl); ok && fn.Pos() <= at && at < fn.End() {
			return fn
		}
	}
	return nil
}

// asserts reports whether a call that can fail a test stands on the line of a
// place: a method such as Errorf, or a helper that takes t.
func asserts(fset *token.FileSet, fn *ast.FuncDecl, at token.Pos) (yes bool) {
	line := fset.Position(at).Line
	ast.Inspect(fn, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || fset.Position(call.Pos()).Line > line || fset.Position(call.End()).Line < line {
			return true
		}
		if sel, ok := call.Fun.(*ast.SelectorExpr); ok && slices.Contains([]string{"Error", "Errorf", "Fatal", "Fatalf"}, sel.Sel.Name) {
			yes = true
		}
		if len(call.Args) > 0 {
			if id, ok := call.Args[0].(*ast.Ident); ok && id.Name == "t" {
				yes = true
			}
		}
		return true
	})
	return yes
}

// callersOf is for each function of a package's tests the functions that name it.
func callersOf(files []*ast.File) map[string][]string {
	callers := map[string][]string{}
	for _, f := range files {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil {
				continue
			}
			ast.Inspect(fn.Body, func(n ast.Node) bool {
				if id, ok := n.(*ast.Ident); ok {
					callers[id.Name] = append(callers[id.Name], fn.Name.Name)
				}
				return true
			})
		}
	}
	return callers
}

// testsThatCall are the tests among a function and those that lead to it.
func testsThatCall(callers map[string][]string, fn string, seen map[string]bool) (tests []string) {
	if seen[fn] {
		return nil
	}
	seen[fn] = true
	if strings.HasPrefix(fn, "Test") {
		return []string{fn}
	}
	for _, c := range callers[fn] {
		tests = append(tests, testsThatCall(callers, c, seen)...)
	}
	return tests
}
