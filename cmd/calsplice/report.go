package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/interp/cells/axes"
	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func report(in *input) {
	j := in.job()
	in.deliver(result{pages: true, view: func() *view.View { return view.Report(j) }, json: asJSON(j)})
}

// job reads the calibrations and the drives.
func (in *input) job() *view.Job {
	j := &view.Job{Customer: in.text("customer"), Date: in.text("date"), Notes: in.many("note")}
	in.sum(j, in.arg(0), "calibration as found")
	in.sum(j, in.arg(1), "calibration now")
	j.Found, j.Now = in.calibration(in.arg(0)), in.calibration(in.arg(1))
	j.Changes, j.Looks = merge.Compare(j.Found, j.Now, merge.Tolerance{}, merge.Selection{}), newFindings(j.Found, j.Now)
	j.Before, j.After = in.stage(j, "before", j.Found), in.stage(j, "after", j.Now)
	if j.Before != nil && j.After != nil {
		j.Compared = must(cells.CompareDrives(j.Before.Drive, j.After.Drive))
	}
	j.Say()
	return j
}

// stage reads the drives of a flag, driven with a calibration; nil where there are
// none.
func (in *input) stage(j *view.Job, flag string, cal *tables.Calibration) *view.Stage {
	files := must(expand(in.many(flag)))
	if len(files) == 0 {
		return nil
	}
	opt := in.logOptions()
	opt.Engine = cal.Engine()
	for _, f := range files {
		in.sum(j, f, "drive "+flag)
	}
	// Both drives are looked at on the axes of the calibration as found, so that
	// they compare.
	x, y, err := driveAxes(j.Found)
	within(in.arg(0), err)
	s := in.gathered(in.logs(files, opt), cells.Spec{Let: opt.Let, X: x, Y: y})
	if e, err := in.explain(cal, files, opt); err == nil {
		s.Explained = e
	} else {
		check(in.ctx.Err())
		s.Why = err.Error() // the logs were read: there is too little in them
	}
	return s
}

// driveAxes are the axes on which drives are looked at: the spark table's, or
// those of another table that a log has channels for.
func driveAxes(cal *tables.Calibration) (x, y *axes.Axis, err error) {
	id, err := cells.SparkTable(cal)
	if err == nil {
		return axes.OfTable(cal, id)
	}
	for _, t := range cal.Tables() {
		if t.Y() == nil {
			continue
		}
		if x, y, axesErr := axes.OfTable(cal, t.ID()); axesErr == nil {
			return x, y, nil
		}
	}
	return nil, nil, err
}

// sum adds a file with its SHA-256 to those of the job.
func (in *input) sum(j *view.Job, path, what string) {
	refuse(path == "-", "report names its files and their sums: standard input has neither")
	h := sha256.New()
	f, err := os.Open(path)
	if err == nil {
		defer f.Close()
		_, err = io.Copy(h, f)
	}
	if err != nil {
		check(tablefile.Plain(path, err))
	}
	j.Files = append(j.Files, view.File{Name: filepath.Base(path), What: what, SHA256: hex.EncodeToString(h.Sum(nil))})
}
