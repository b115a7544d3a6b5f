package main

import (
	"errors"
	"os"
	"path/filepath"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
	"calsplice/tables/tablefile"

	"github.com/urfave/cli/v2"
)

func resolveCommand() *cli.Command {
	return &cli.Command{
		Name:      "resolve",
		Usage:     "resolve conflicts of a merge",
		ArgsUsage: "MERGED [CONFLICTS]",
		Description: `Settles the conflicts of a merged calibration for one side: all of them, those
of a table, a block or a cell. What is left stays listed beside the output, so
that the next call goes on from there.

   calsplice resolve merged.json --take theirs --table 'spark.*' -o merged.json
   calsplice resolve merged.json --take ours -o merged.json

CONFLICTS is found where merge left it, beside MERGED, or git, in its own folder.
MERGED is the document that the merge left, or what resolving made of it since:
another one is refused, and every place where it differs is named. The exit
status is 1 while conflicts remain.`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "take", Usage: "`SIDE`: ours, theirs or base"},
			manyFlag("table", "`GLOB`: only conflicts of tables with such an id; again for more"),
			manyFlag("at", "`TABLE:R,C`: only conflicts of these cells, as listed; R-R,C-C for a block; again for more"),
			outFlag("`FILE`: the calibration: .json .csv .xlsx"), formatFlag(), colorFlag(),
		},
		Action: resolveAction,
	}
}

func resolveAction(c *cli.Context) error {
	if err := wantArgs(c, 1, 2); err != nil {
		return err
	}
	take := merge.Side(c.String("take"))
	if take == "" {
		return errors.New("resolve needs --take ours, theirs or base")
	}
	out := c.String("o")
	if out == "" {
		return errors.New("resolve needs -o FILE for the calibration")
	}
	only, err := selection(c)
	if err != nil {
		return err
	}
	docs, err := readAll(c, c.Args().Get(0))
	if err != nil {
		return err
	}
	from, err := conflictsOf(c)
	if err != nil {
		return err
	}
	list := from.Conflicts
	doc, left, said, err := merge.Resolve(docs[0], list, take, only)
	if bad := (*merge.MismatchError)(nil); errors.As(err, &bad) {
		faults := bad.Faults(c.Args().Get(0))
		for _, f := range faults {
			f.What += "; the conflict is listed in " + tables.Clean(from.File)
		}
		return faults
	}
	if err != nil {
		if faults := (tables.Faults)(nil); errors.As(err, &faults) {
			for _, f := range faults {
				f.File = from.File
			}
		}
		return err
	}
	if len(left) == len(list) && !only.All() {
		return &tables.Fault{File: from.File, What: "no conflict matches --table and --at"}
	}
	return finishResolve(c, resolved{doc, from, left, said}, out)
}

// conflictsOf is the list of conflicts that was named, or that stands for the
// document.
func conflictsOf(c *cli.Context) (from gitdriver.Standing, err error) {
	doc, file := c.Args().Get(0), c.Args().Get(1)
	from = gitdriver.Find(doc)
	switch {
	case file == "" && from.File == "":
		return from, &tables.Fault{File: doc, What: "no list of its conflicts stands beside it, nor in git: name the list"}
	case file == "" || filepath.Clean(file) == filepath.Clean(from.File):
		return from, nil
	}
	from = gitdriver.Standing{Document: doc, File: file}
	from.List, err = conflictfile.Read(file, c.App.Reader)
	return from, err
}

// resolved is what settling some conflicts of a list gave.
type resolved struct {
	doc  *tables.Calibration
	from gitdriver.Standing
	left []merge.Conflict
	said []string
}

// finishResolve writes the document and what is left of the list, both or
// neither. What still stands when the process is killed in between is listed:
// so a list that only gets shorter is written last.
func finishResolve(c *cli.Context, r resolved, out string) error {
	to := c.App.Writer
	if toStdout(out) {
		to = c.App.ErrWriter
	}
	file, err := leftPlace(c, r, out)
	if err != nil {
		return err
	}
	list := func(first func() error) error {
		if r.from.InGit() && file == r.from.File && len(r.left) == 0 {
			if err := first(); err != nil {
				return err
			}
			return os.Remove(file)
		}
		return conflictfile.Write(file, conflictfile.List{Merged: filepath.Base(out), Conflicts: r.left}, c.App.Writer, first)
	}
	opt := output(c)
	doc := func() error { return tablefile.Write(out, r.doc, opt) }
	switch {
	case file == "":
		err = doc()
	case r.shorter(file):
		err = list(doc)
	default:
		opt.First = func() error { return list(nil) }
		err = doc()
	}
	if err != nil {
		return err
	}
	p, err := text.NewPrinter(to, c.String("color"))
	if err != nil {
		return err
	}
	p.View(view.Left(r.left, r.doc, r.said, file))
	if len(r.left) > 0 {
		return errReport
	}
	return nil
}

// leftPlace is where what is left is to be listed: in the list itself, where it
// stands for the document that is written over; else beside the output. It is
// "" where nothing is left and no list of the output stands.
func leftPlace(c *cli.Context, r resolved, out string) (string, error) {
	merged := c.Args().Get(0)
	if tablefile.Device(out) {
		return "", nil
	}
	if info, err := os.Stat(out); err == nil && same(merged, info) && gitdriver.Find(merged).File == r.from.File {
		return r.from.File, nil
	}
	file, _ := conflictfile.Standing(out)
	if file == "" && len(r.left) == 0 {
		return "", nil
	}
	return conflictfile.Place(out, func(list []merge.Conflict) bool { return conflictfile.Within(list, r.from.Conflicts) })
}

// shorter reports whether a list that stands already has all that is left.
func (r resolved) shorter(file string) bool {
	list, err := conflictfile.Read(file, nil)
	return err == nil && conflictfile.Within(r.left, list.Conflicts)
}
