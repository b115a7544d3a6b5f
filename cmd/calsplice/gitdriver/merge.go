package gitdriver

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/difftext"
	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Merge is the merge driver: it merges three files that git hands over, leaves
// the result in ours, and reports whether there are conflicts; these are listed
// beside the file at path, its name in the repository. Git's own merge of text
// takes over where one of the three is no sound calibration.
//
// Git calls the driver with a longer marker while it makes up a common base of
// several: there what conflicts stays as the base has it, and nothing is listed.
func Merge(base, ours, theirs string, marker int, path string, out io.Writer) (conflicts bool, err error) {
	docs, err := readThree(base, ours, theirs, path)
	if err != nil {
		return mergeText(base, ours, theirs, marker, path, err, out)
	}
	r, err := merge.Merge(docs[0], docs[1], docs[2], merge.MergeOptions{})
	if err != nil {
		return mergeText(base, ours, theirs, marker, path, err, out)
	}
	if marker > 7 && len(r.Conflicts) > 0 {
		if r.Merged, r.Conflicts, _, err = merge.Resolve(r.Merged, r.Conflicts, merge.Original, merge.Selection{}); err != nil {
			return true, nil
		}
		return false, put(ours, path, r.Merged)
	}
	if err := put(ours, path, r.Merged); err != nil {
		return false, err
	}
	file := listFile(path)
	// Without conflicts the file is let be: it may be that of a document of the
	// same name in another spelling.
	if len(r.Conflicts) > 0 {
		// Where the other side moved the document, git makes the folder later.
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			return false, err
		}
		if err := conflictfile.Write(file, r.Conflicts, nil); err != nil {
			return false, err
		}
	}
	fmt.Fprintf(out, "calsplice: %s\n", tables.Clean(path))
	return len(r.Conflicts) > 0, difftext.Merge(out, r, file)
}

func put(file, name string, doc *tables.Calibration) error {
	data, err := spell(doc, name)
	if err != nil {
		return err
	}
	return os.WriteFile(file, data, 0o666) // git's own temporary file: it is there already
}

// readThree reads the three documents. Where there is no common base, git gives
// an empty file: then the base is a document without anything.
func readThree(base, ours, theirs, path string) (docs [3]*tables.Calibration, err error) {
	for i, file := range []string{base, ours, theirs} {
		data, err := os.ReadFile(file)
		if err != nil {
			return docs, err
		}
		if i == 0 && len(data) == 0 {
			continue
		}
		if docs[i], err = parse(data, path); err != nil {
			return docs, err
		}
	}
	if docs[0] == nil {
		docs[0], err = tables.NewCalibration(tables.Contents{Kind: docs[1].Kind()})
	}
	return docs, err
}

// mergeText merges as git would have without the driver.
func mergeText(base, ours, theirs string, marker int, path string, why error, out io.Writer) (bool, error) {
	first, _, _ := strings.Cut(why.Error(), "\n")
	fmt.Fprintf(out, "calsplice: merged as text: %s\n", first)
	if strings.EqualFold(filepath.Ext(path), ".xlsx") {
		return true, nil // no text: ours stays, as git does with binary files
	}
	cmd := exec.Command("git", "merge-file", "-L", "ours", "-L", "base", "-L", "theirs",
		"--marker-size="+strconv.Itoa(max(marker, 1)), ours, base, theirs)
	cmd.Stderr = out
	err := cmd.Run()
	var exit *exec.ExitError
	switch {
	case err == nil:
		return false, nil
	case errors.As(err, &exit) && exit.ExitCode() > 0 && exit.ExitCode() < 128:
		return true, nil
	}
	return true, err
}

// Tool is the merge tool: it goes through the conflicts of a merged file and
// asks about each. It reports whether any is left. Then nothing is written, and
// the next call asks about all of them again: git puts the file back as it was
// before a call that settles less than everything, so that answers written down
// anywhere else would be taken for given while the file does not hold them.
//
// Once all is settled the list of conflicts is gone.
func Tool(base, ours, theirs, merged string, in io.Reader, out io.Writer) (left bool, err error) {
	doc, conflicts, listed, err := resume(base, ours, theirs, merged)
	if err != nil {
		return false, err
	}
	answers := bufio.NewScanner(in)
	sides := map[string]merge.Side{}
	for i, c := range conflicts {
		name := c.At()
		if c.Table != "" {
			name = c.Table + " " + name
		}
		if at := c.Where(doc.Table(c.Table)); at != "" {
			name += " at " + at
		}
		fmt.Fprintf(out, "%d of %d: %s: base %s, ours %s, theirs %s\ntake (o)urs, (t)heirs, (b)ase, or (s)kip? ", i+1, len(conflicts),
			tables.Clean(name), c.SideText(merge.Original), c.SideText(merge.Ours), c.SideText(merge.Theirs))
		if side, ok := answer(answers); ok {
			sides[c.ID] = side
		}
		fmt.Fprintln(out)
	}
	if n := len(conflicts) - len(sides); n > 0 {
		fmt.Fprintf(out, "%s skipped: nothing is written, and the next run asks about every conflict again\n", tables.Plural(n, "conflict"))
		return true, nil
	}
	doc, _, said, err := merge.ResolveEach(doc, conflicts, func(c merge.Conflict) merge.Side { return sides[c.ID] })
	if bad := (*merge.MismatchError)(nil); errors.As(err, &bad) {
		return false, bad.Faults(merged)
	}
	if err != nil {
		return false, err
	}
	for _, s := range said {
		fmt.Fprintln(out, s)
	}
	if err := tablefile.Write(merged, doc, tablefile.Options{}); err != nil || listed == "" {
		return false, err
	}
	return false, os.Remove(listed)
}

func answer(in *bufio.Scanner) (merge.Side, bool) {
	if !in.Scan() {
		return "", false
	}
	switch strings.ToLower(strings.TrimSpace(in.Text())) {
	case "o", "ours":
		return merge.Ours, true
	case "t", "theirs":
		return merge.Theirs, true
	case "b", "base":
		return merge.Original, true
	}
	return "", false
}

// resume is the merged document with the conflicts that are still listed, and
// the file that lists them; or the merge from the start where there is no list
// of this merge.
func resume(base, ours, theirs, merged string) (doc *tables.Calibration, conflicts []merge.Conflict, listed string, err error) {
	docs, err := readThree(base, ours, theirs, merged)
	if err != nil {
		return nil, nil, "", err
	}
	r, err := merge.Merge(docs[0], docs[1], docs[2], merge.MergeOptions{})
	if err != nil {
		return nil, nil, "", err
	}
	if data, err := os.ReadFile(merged); err == nil {
		if doc, err := parse(data, merged); err == nil {
			for _, file := range []string{conflictfile.Own(merged), conflictfile.Path(merged)} {
				list, err := conflictfile.Read(file, nil)
				if err != nil || !among(list, r.Conflicts) {
					continue
				}
				if listed = file; len(list) > 0 {
					return doc, list, file, nil
				}
			}
		}
	}
	return r.Merged, r.Conflicts, listed, nil
}
