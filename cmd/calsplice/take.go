package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/grid"
	"calsplice/tables/tablefile"
)

func takeCommand() *cli.Command {
	return &cli.Command{
		Name:      "take",
		Usage:     "make a table from a copied grid of numbers",
		ArgsUsage: "GRID",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "id", Usage: "`ID`: the table"},
			&cli.StringFlag{Name: "unit", Usage: "`UNIT`: of its values"},
			&cli.StringFlag{Name: "role", Usage: "`ROLE`: what the table means, such as spark.advance: see calsplice help roles"},
			&cli.StringFlag{Name: "title", Usage: "`TEXT`: the table's title"},
			&cli.StringFlag{Name: "resolution", Usage: "`V`: the smallest step that the controller stores"},
			&cli.StringFlag{Name: "limits", Usage: "`LOW,HIGH`: the smallest and the largest value that it may hold"},
			&cli.StringFlag{Name: "x", Usage: "`'QUANTITY [UNIT]'`: of the columns, with ': 600,800,…' where the grid has values alone"},
			&cli.StringFlag{Name: "y", Usage: "`'QUANTITY [UNIT]'`: of the rows"},
			&cli.StringFlag{Name: "like", Usage: "`CAL:TABLE`: another table whose axes, unit and resolution to use"},
			&cli.StringFlag{Name: "into", Usage: "`CAL`: the calibration to add the table to"},
			&cli.StringFlag{Name: "decimal", Usage: "`MARK`: the decimal mark, '.' or ',', where the numbers do not tell"},
			outFlag("`FILE`: the calibration (default: standard output)"),
			formatFlag(),
		},
		Action: take,
	}
}

func take(c *cli.Context) error {
	order, err := takeOrder(c)
	if err != nil {
		return err
	}
	raw, err := readGrid(c, c.Args().First(), c.String("decimal"))
	if err != nil {
		return err
	}
	doc, notes, err := order.Take(raw)
	if err != nil {
		return err
	}
	printCautions(c, notes...)
	printCautions(c, newFindings(order.Into, doc)...)
	out := c.String("o")
	if out == "" {
		out = "-"
	}
	return tablefile.Write(out, doc, output(c))
}

// takeOrder reads the flags that say what the grid is, and the documents that they
// name.
func takeOrder(c *cli.Context) (order grid.Order, err error) {
	if err := needs(c, "id"); err != nil {
		return order, err
	}
	order = grid.Order{ID: c.String("id"), Unit: c.String("unit"), UnitSet: c.IsSet("unit"), Facts: map[string]string{}}
	for _, name := range tables.TableFields.Typed() {
		if name != "unit" && c.IsSet(name) {
			order.Facts[name] = c.String(name)
		}
	}
	like, _ := tablefile.SplitTable(c.String("like"))
	if oftenStdin(c.Args().First(), c.String("into"), like) {
		return order, errors.New("standard input, -, can be read only once")
	}
	if order.X, err = axisSpec(c, "x"); err == nil {
		order.Y, err = axisSpec(c, "y")
	}
	if err == nil && c.IsSet("like") {
		order.Like, err = likeFlag(c)
	}
	if err == nil && c.IsSet("into") {
		order.Into, err = readDoc(c, c.String("into"))
	}
	return order, err
}

// oftenStdin reports whether more than one of several inputs is "-".
func oftenStdin(paths ...string) bool {
	n := 0
	for _, p := range paths {
		if p == "-" {
			n++
		}
	}
	return n > 1
}

func axisSpec(c *cli.Context, flag string) (*grid.AxisSpec, error) {
	if !c.IsSet(flag) {
		return nil, nil
	}
	a, err := grid.ParseAxis(c.String(flag))
	if err != nil {
		return nil, fmt.Errorf("--%s: %w", flag, err)
	}
	return &a, nil
}

func likeFlag(c *cli.Context) (*tables.Table, error) {
	_, t, err := tableAt(c, c.String("like"), func(*tables.Calibration) (string, error) {
		return "", fmt.Errorf("--like is %s, want CAL:TABLE", tables.Quote(c.String("like")))
	})
	return t, err
}

// readGrid reads a grid from a file, a workbook's range or standard input.
func readGrid(c *cli.Context, path, decimal string) (*grid.Raw, error) {
	book, address, isRange := splitRange(path)
	if isRange && extension(book) == ".xlsx" || extension(path) == ".xlsx" {
		if !isRange {
			book, address = path, ""
		}
		raw, cautions, err := grid.ReadBook(book, address)
		printCautions(c, cautions.Lines()...)
		return raw, err
	}
	data, err := tablefile.Any(path, c.App.Reader)
	if err != nil {
		return nil, err
	}
	mark := byte(0)
	if decimal != "" {
		mark = decimal[0]
	}
	return grid.Read(data, path, mark)
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
