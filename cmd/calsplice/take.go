package main

import (
	"cmp"
	"fmt"
	"os"
	"strings"

	"calsplice/tables"
	"calsplice/tables/grid"
	"calsplice/tables/tablefile"
)

func take(in *input) {
	order := in.order()
	raw := in.grid(in.arg(0))
	doc, notes, err := order.Take(raw)
	check(err)
	in.caution(notes...)
	in.caution(newFindings(order.Into, doc)...)
	check(tablefile.Write(cmp.Or(in.text("o"), "-"), doc, in.output()))
}

// order reads the flags that say what the grid is, and the documents that they
// name.
func (in *input) order() grid.Order {
	in.needs("id")
	order := grid.Order{ID: in.text("id"), Unit: in.text("unit"), UnitSet: in.given("unit"), Facts: map[string]string{}}
	for _, name := range tables.TableFields.Typed() {
		if name != "unit" && in.given(name) {
			order.Facts[name] = in.text(name)
		}
	}
	like, _ := tablefile.SplitTable(in.text("like"))
	refuse(oftenStdin(in.arg(0), in.text("into"), like), "standard input, -, can be read only once")
	order.X, order.Y = in.axisSpec("x"), in.axisSpec("y")
	if in.given("like") {
		_, order.Like = in.tableAt(in.text("like"), func(*tables.Calibration) (string, error) {
			return "", fmt.Errorf("--like is %s, expected CAL:TABLE", tables.Quote(in.text("like")))
		})
	}
	if in.given("into") {
		order.Into = in.doc(in.text("into"))
	}
	return order
}

func (in *input) axisSpec(flag string) *tables.AxisParts {
	if !in.given(flag) {
		return nil
	}
	a, err := grid.ParseAxis(in.text(flag))
	refuse(err != nil, "--%s: %w", flag, err)
	return &a
}

// grid reads a grid from a file, a workbook's range or standard input.
func (in *input) grid(path string) *grid.Raw {
	book, address, isRange := splitRange(path)
	if isRange && extension(book) == ".xlsx" || extension(path) == ".xlsx" {
		if !isRange {
			book, address = path, ""
		}
		raw, cautions, err := grid.ReadBook(book, address)
		in.read(cautions, err)
		return raw
	}
	mark := byte(0)
	if decimal := in.text("decimal"); decimal != "" {
		mark = decimal[0]
	}
	return must(grid.Read(must(tablefile.Any(path, in.stdin)), path, mark))
}

// splitRange takes BOOK#RANGE apart. Names of files and of sheets may have a # of
// their own: the longest name of a file that is there is the book's, and where
// there is none the shortest that ends as a workbook's does.
func splitRange(path string) (book, address string, isRange bool) {
	for end := len(path); end >= 0; end = strings.LastIndexByte(path[:end], '#') {
		if info, err := os.Stat(path[:end]); err == nil && !info.IsDir() {
			return path[:end], strings.TrimPrefix(path[end:], "#"), end < len(path)
		}
	}
	for i := range len(path) {
		if path[i] == '#' && extension(path[:i]) == ".xlsx" {
			return path[:i], path[i+1:], true
		}
	}
	return path, "", false
}
