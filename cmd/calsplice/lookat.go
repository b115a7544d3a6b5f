package main

import (
	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// lookAtDrive is cells with --axes alone: are the trims normal, is retard more
// than noise.
func (in *input) lookAtDrive() error {
	s := in.drive(in.files(in.args))
	if in.err != nil {
		return in.err
	}
	v := viewed(func() *view.View { return view.Drive(s) })
	return in.deliver(result{view: v, page: v, json: documentJSON(s.Drive.Steady), write: func(out string, opt tablefile.Options) error {
		in.caution(view.Drive(s).Lead...)
		return tablefile.Write(out, s.Drive.Steady, opt)
	}})
}

// drive reads the logs of one drive onto the axes that --axes names.
func (in *input) drive(files []string) *view.Stage {
	spec, logs := in.question(files, true)
	limitMemory(streaming)
	return in.gathered(logs, spec)
}

// gathered is what logs say of a drive.
func (in *input) gathered(logs []cells.Log, spec cells.Spec) *view.Stage {
	return get(in, func() (*view.Stage, error) {
		d, notes, err := cells.GatherDrive(in.ctx, logs, spec)
		in.caution(notes...)
		if err != nil {
			return nil, err
		}
		return view.NewStage(d)
	})
}

// diffLogs compares two drives by their logs, on the axes of --axes.
func (in *input) diffLogs() error {
	out := in.text("o")
	in.refuse(in.asksTables() || in.yes("quiet") && out != "",
		"--axes compares two drive logs: --table, --stat, --name-only and tolerances are for calibrations and cells")
	if out != "" && extension(out) != ".html" {
		in.check(&tables.Fault{File: out, What: "two drive logs compare as text, --json or a page (.html); cells writes their averages, and diff a change set of those"})
	}
	var drives [2]*view.Stage
	for i, file := range in.args {
		if file == "-" || in.isDocument(file) {
			in.check(&tables.Fault{File: file, What: "with --axes this must be a drive log, in a file"})
		}
		drives[i] = in.drive([]string{file})
	}
	compared := get(in, func() (*cells.Comparison, error) { return cells.CompareDrives(drives[0].Drive, drives[1].Drive) })
	if in.err != nil {
		return in.err
	}
	r := result{beside: in.yes("json")}
	r.drives(drives[0].Drive, drives[1].Drive, compared)
	return in.deliver(r)
}

// noLogs refuses two files that are no documents, and says how drive logs compare.
func (in *input) noLogs() {
	for _, file := range in.args {
		if in.err != nil || file == "-" || extension(file) != ".csv" {
			return
		}
		if one := in.apart(); one.isDocument(file) || one.err != nil {
			return // readers say what is wrong
		}
	}
	in.refuse(true, "%s and %s are neither calibrations nor cells: where they are drive logs, --axes CAL compares them", in.arg(0), in.arg(1))
}
