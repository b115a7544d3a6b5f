package gitdriver

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"calsplice/merge/conflictfile"
	"calsplice/tables"
)

// Git's own index says which conflicts stand. While a merge, a rebase, a
// cherry-pick or a popped stash is not finished, the index has what ours and
// theirs held of each file in conflict, and keeps it when the file is added,
// until the next such step or until all is put back. A list is named by these
// two, under git's own folder: so that it is found while it stands, and means
// nothing to a merge that was given up, or that touched no file at all.

// Standing is a list that still holds conflicts of a document.
type Standing struct {
	Document string // as the person named it, or from the top of the clone
	File     string // the list; "" where there is none
	conflictfile.List
	InGit bool // it stands in git's own folder
}

// String names the document, the list and what to do.
func (s Standing) String() string {
	return fmt.Sprintf("%s: %s unsettled, listed in %s: calsplice resolve %s, or delete the list where you settled them by hand",
		tables.Clean(s.Document), tables.Plural(len(s.Conflicts), "conflict"), tables.Clean(s.File), tables.Clean(s.Document))
}

// Find is the list of a document's conflicts, where merge or git left it.
func Find(doc string) Standing {
	if list := found(doc); len(list) > 0 {
		return list[0]
	}
	return Standing{}
}

// found lists what stands for a document, beside it and in git's folder.
func found(doc string) (list []Standing) {
	if doc == "-" {
		return nil
	}
	if file, l := conflictfile.Standing(doc); file != "" {
		list = []Standing{{Document: doc, File: file, List: l}}
	}
	if dir, name := filepath.Split(doc); inClone(dir) {
		for _, s := range (Scope{Dir: dir}).inIndex(name) {
			s.Document = doc
			list = append(list, s)
		}
	}
	return list
}

// inClone reports whether a folder is under one that holds a repository, which
// is cheaper than to ask git.
func inClone(dir string) bool {
	dir, err := filepath.Abs(dir)
	for ; err == nil; dir = filepath.Dir(dir) {
		if _, err := os.Lstat(filepath.Join(dir, ".git")); err == nil {
			return true
		}
		if dir == filepath.Dir(dir) {
			break
		}
	}
	return os.Getenv("GIT_DIR") != ""
}

// standing lists what stands in a clone: the lists of git's merges, and those
// beside the documents that are named.
func (s Scope) standing(documents []string) []Standing {
	list := s.inIndex()
	for _, doc := range documents {
		if file, l := conflictfile.Standing(filepath.Join(s.Dir, doc)); file != "" {
			list = append(list, Standing{Document: doc, File: filepath.ToSlash(file), List: l})
		}
	}
	return list
}

// inIndex lists the conflicts that git's index knows of, of all documents or of
// those with a name in the folder.
func (s Scope) inIndex(names ...string) (list []Standing) {
	// Unmerged entries are conflicts that stand; resolve-undo has those that were
	// added to the index since, with their list still open.
	args := append([]string{"--literal-pathspecs", "ls-files", "-z", "--unmerged", "--resolve-undo", "--full-name", "--"}, names...)
	out, err := s.git(args...)
	if err != nil || out == "" {
		return nil
	}
	stages := map[string][3]string{}
	for _, entry := range strings.Split(strings.Trim(out, "\x00"), "\x00") {
		head, path, _ := strings.Cut(entry, "\t")
		f := strings.Fields(head) // mode, object, stage
		if len(f) != 3 {
			continue
		}
		of := stages[path]
		of[f[2][0]-'1'] = f[1]
		stages[path] = of
	}
	for _, path := range slices.Sorted(maps.Keys(stages)) {
		// Git keeps what a conflict was made of also when a person has taken theirs whole,
		// and then nothing is open in this file.
		if now, err := s.git("rev-parse", "--verify", "--quiet", ":0:"+path); err == nil && now == stages[path][2] {
			continue // git checkout --theirs settled it
		}
		for _, file := range s.listed(path, stages[path]) {
			if l, err := conflictfile.Read(file, nil); err == nil && len(l.Conflicts) > 0 {
				list = append(list, Standing{Document: path, File: file, List: l, InGit: true})
			}
		}
	}
	return list
}

// listed finds the lists of a document by what git calls the contents of the
// base and the two sides. Where each side gave the document another name, the
// old name has the base alone.
func (s Scope) listed(path string, stages [3]string) (files []string) {
	file := s.listOf(path, stages)
	// The usual case: one name, and at least one side under it.
	if stages[1]+stages[2] != "" {
		return []string{file}
	}
	// Both sides renamed the document: the index has the base under its old name, and
	// the sides, apart, under theirs. The list was named by all three, so that its name
	// begins with the base.
	common, _, _ := strings.Cut(file[len(filepath.Dir(file)):], "-"+shorten(" "))
	entries, _ := os.ReadDir(filepath.Dir(file))
	for _, e := range entries {
		if strings.HasPrefix(string(filepath.Separator)+e.Name(), common+"-") {
			files = append(files, filepath.Join(filepath.Dir(file), e.Name()))
		}
	}
	return files
}

// listOf is where the list of a document stands in git's folder.
func (s Scope) listOf(path string, stages [3]string) string {
	return s.gitPath("calsplice/" + path + "." + shorten(stages[0]) + "-" + shorten(stages[1]+" "+stages[2]) + ".conflicts.json")
}

func shorten(object string) string {
	sum := sha256.Sum256([]byte(object))
	return hex.EncodeToString(sum[:6])
}

// top is the scope of the clone's uppermost folder.
func (s Scope) top() Scope {
	s.Dir = filepath.Join(s.Dir, filepath.FromSlash(s.ask("rev-parse", "--show-cdup")))
	return s
}

// gitPath is where git keeps a file of its own.
func (s Scope) gitPath(name string) string {
	file := filepath.FromSlash(s.ask("rev-parse", "--git-path", name))
	if !filepath.IsAbs(file) {
		file = filepath.Join(s.Dir, file)
	}
	return file
}
