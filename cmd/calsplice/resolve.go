package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"calsplice/cmd/calsplice/difftext"
	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
	"calsplice/tables/tablefile"

	"github.com/urfave/cli/v2"
)

func resolveCommand() *cli.Command {
	return &cli.Command{
		Name:      "resolve",
		Usage:     "settle conflicts of a merge",
		ArgsUsage: "MERGED CONFLICTS",
		Description: `Settles the conflicts of a merged calibration for one side: all of them, those
of a table, a block or a cell. What is left stays listed beside the output, so
that the next call goes on from there.

   calsplice resolve merged.json merged.conflicts.json --take theirs --table 'spark.*' -o merged.json
   calsplice resolve merged.json merged.conflicts.json --take ours -o merged.json

MERGED is the document that the merge left, or what resolving made of it since:
another one is refused, and every place where it differs is named. The exit
status is 1 while conflicts remain.`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "take", Usage: "`ours|theirs|base`"},
			manyFlag("table", "only conflicts of tables that match `GLOB`; may be repeated"),
			manyFlag("at", "only conflicts of the cells at `TABLE:R,C` or TABLE:R-R,C-C, as listed; may be repeated"),
			outFlag("write the calibration to `FILE`: .json .csv .xlsx"), formatFlag(),
		},
		Action: resolveAction,
	}
}

func resolveAction(c *cli.Context) error {
	if err := wantArgs(c, 2, 2); err != nil {
		return err
	}
	take := merge.Side(c.String("take"))
	if take != merge.Ours && take != merge.Theirs && take != merge.Original {
		return fmt.Errorf("--take is %s, want ours, theirs or base", tables.Quote(string(take)))
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
	list, err := conflictfile.Read(c.Args().Get(1), c.App.Reader)
	if err != nil {
		return err
	}
	doc, left, said, err := merge.Resolve(docs[0], list, take, only)
	if bad := (*merge.MismatchError)(nil); errors.As(err, &bad) {
		faults := bad.Faults(c.Args().Get(0))
		for _, f := range faults {
			f.What += "; the conflict is listed in " + tables.Clean(c.Args().Get(1))
		}
		return faults
	}
	if err != nil {
		if faults := (tables.Faults)(nil); errors.As(err, &faults) {
			for _, f := range faults {
				f.File = c.Args().Get(1)
			}
		}
		return err
	}
	if len(left) == len(list) && !only.All() {
		return &tables.Fault{File: c.Args().Get(1), What: "no conflict matches --table and --at"}
	}
	return finishResolve(c, doc, left, said, out)
}

func finishResolve(c *cli.Context, doc *tables.Calibration, left []merge.Conflict, said []string, out string) error {
	file, text := "", c.App.Writer
	if toStdout(out) {
		text = c.App.ErrWriter
	}
	if !tablefile.Device(out) {
		file = conflictfile.Path(out)
		if own := conflictfile.Own(out); filepath.Clean(c.Args().Get(1)) == filepath.Clean(own) {
			file = own // as git's merge driver names it where two documents share a name
		}
	}
	if err := tablefile.Write(out, doc, output(c)); err != nil {
		return err
	}
	if file != "" {
		if err := conflictfile.Write(file, left, c.App.Writer); err != nil {
			return err
		}
	}
	if err := difftext.Left(text, left, doc, said, file); err != nil {
		return err
	}
	if len(left) > 0 {
		return errReport
	}
	return nil
}
