package main

import (
	"cmp"
	"fmt"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/grid"
	"calsplice/tables/tablefile"
)

func take(c *cli.Context) error {
	in := reading(c)
	order := in.order()
	raw := in.grid(in.arg(0))
	if in.err != nil {
		return in.err
	}
	doc, notes, err := order.Take(raw)
	if err != nil {
		return err
	}
	printCautions(c, notes...)
	printCautions(c, newFindings(order.Into, doc)...)
	return tablefile.Write(cmp.Or(c.String("o"), "-"), doc, output(c))
}

// order reads the flags that say what the grid is, and the documents that they
// name.
func (in *input) order() grid.Order {
	in.check(needs(in.Context, "id"))
	order := grid.Order{ID: in.String("id"), Unit: in.String("unit"), UnitSet: in.IsSet("unit"), Facts: map[string]string{}}
	for _, name := range tables.TableFields.Typed() {
		if name != "unit" && in.IsSet(name) {
			order.Facts[name] = in.String(name)
		}
	}
	like, _ := tablefile.SplitTable(in.String("like"))
	in.refuse(oftenStdin(in.arg(0), in.String("into"), like), "standard input, -, can be read only once")
	order.X, order.Y = in.axisSpec("x"), in.axisSpec("y")
	if in.IsSet("like") {
		_, order.Like = in.tableAt(in.String("like"), func(*tables.Calibration) (string, error) {
			return "", fmt.Errorf("--like is %s, expected CAL:TABLE", tables.Quote(in.String("like")))
		})
	}
	if in.IsSet("into") {
		order.Into = in.doc(in.String("into"))
	}
	return order
}

func (in *input) axisSpec(flag string) *grid.AxisSpec {
	if !in.IsSet(flag) {
		return nil
	}
	a, err := grid.ParseAxis(in.String(flag))
	in.refuse(err != nil, "--%s: %w", flag, err)
	return &a
}

// grid reads a grid from a file, a workbook's range or standard input.
func (in *input) grid(path string) *grid.Raw {
	book, address, isRange := splitRange(path)
	if isRange && extension(book) == ".xlsx" || extension(path) == ".xlsx" {
		if !isRange {
			book, address = path, ""
		}
		return withCautions(in, func() (*grid.Raw, tables.Faults, error) { return grid.ReadBook(book, address) })
	}
	mark := byte(0)
	if decimal := in.String("decimal"); decimal != "" {
		mark = decimal[0]
	}
	return get(in, func() (*grid.Raw, error) {
		data, err := tablefile.Any(path, in.App.Reader)
		if err != nil {
			return nil, err
		}
		return grid.Read(data, path, mark)
	})
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
