package gitdriver

import (
	"os"
	"path/filepath"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables/tablefile"
)

// listFile is where the merge driver lists the conflicts of a document: beside
// it under its name without the extension, or with it where another document
// has that name too, since each has a list of its own. A document that the
// other side brings under this name is not in the folder yet: then a list that
// is there may be that of another one.
func listFile(path string) string {
	short := conflictfile.Path(path)
	if shared(path) || !exists(path) && exists(short) {
		return conflictfile.Own(path)
	}
	return short
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

// shared reports whether another document beside a path has its name in another
// spelling. A drive log, say, is no document.
func shared(path string) bool {
	stem := func(name string) string { return strings.TrimSuffix(name, filepath.Ext(name)) }
	own := filepath.Base(path)
	entries, _ := os.ReadDir(filepath.Dir(path))
	return slices.ContainsFunc(entries, func(e os.DirEntry) bool {
		name := e.Name()
		if name == own || e.IsDir() || !strings.EqualFold(stem(name), stem(own)) {
			return false
		}
		data, err := tablefile.Any(filepath.Join(filepath.Dir(path), name), nil)
		return err == nil && format(name, data) != ""
	})
}

// among reports whether every conflict of a list is one of a merge's: else the
// list is of another document, or of another merge.
func among(list, all []merge.Conflict) bool {
	key := func(c merge.Conflict) string {
		c.Row, c.Column, c.In = 0, 0, "" // resolving a part can move the cell
		return string(conflictfile.Append(nil, []merge.Conflict{c}))
	}
	known := map[string]bool{}
	for _, c := range all {
		known[key(c)] = true
	}
	return !slices.ContainsFunc(list, func(c merge.Conflict) bool { return !known[key(c)] })
}
