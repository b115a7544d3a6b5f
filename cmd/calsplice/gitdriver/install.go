package gitdriver

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"calsplice/tables/tablefile"
)

// Patterns are the files that [Install] names unless told otherwise.
var Patterns = []string{"*.json", "*.csv", "*.xlsx"}

const (
	driver  = "calsplice"
	comment = "# Calibrations are compared and merged cell by cell; other files as ever."
)

// settings are what git's configuration holds while the driver is installed.
func settings(program string) [][2]string {
	return [][2]string{
		{"diff." + driver + ".textconv", program + " git textconv"},
		{"merge." + driver + ".name", "calibrations, cell by cell"},
		{"merge." + driver + ".driver", program + " git merge-driver %O %A %B %L %P"},
		{"mergetool." + driver + ".cmd", program + ` git merge-tool "$BASE" "$LOCAL" "$REMOTE" "$MERGED"`},
		{"mergetool." + driver + ".trustExitCode", "true"},
	}
}

// Scope is where the driver is installed: in the clone around a folder, or for
// the user.
type Scope struct {
	Dir    string // "" is the working directory
	Global bool
}

func (s Scope) git(args ...string) (string, error) {
	cmd := exec.Command("git", args...)
	cmd.Dir = s.Dir
	var out, fault bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &fault
	err := cmd.Run()
	if text := strings.TrimSpace(fault.String()); err != nil && text != "" {
		first, _, _ := strings.Cut(text, "\n")
		err = fmt.Errorf("git: %s", strings.TrimPrefix(first, "fatal: "))
	}
	return strings.TrimRight(out.String(), "\r\n"), err
}

func (s Scope) config(args ...string) (string, error) {
	where := "--local"
	if s.Global {
		where = "--global"
	}
	return s.git(append([]string{"config", where}, args...)...)
}

// attributes is the file that names which files the driver is for.
func (s Scope) attributes() (string, error) {
	if !s.Global {
		top, err := s.git("rev-parse", "--show-toplevel")
		return filepath.Join(filepath.FromSlash(top), ".gitattributes"), err
	}
	if file, err := s.git("config", "--global", "--type=path", "core.attributesFile"); err == nil && file != "" {
		return filepath.FromSlash(file), nil
	}
	config := os.Getenv("XDG_CONFIG_HOME")
	if config == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", err
		}
		config = filepath.Join(home, ".config")
	}
	return filepath.Join(config, "git", "attributes"), nil
}

// Install writes git's configuration and the attributes, keeping what is there.
// It gives the name of the attributes file.
func (s Scope) Install(patterns []string) (string, error) {
	file, err := s.attributes()
	if err != nil {
		return "", err
	}
	for _, p := range patterns {
		if p == "" || strings.ContainsAny(p, " \t\r\n\"") || p[0] == '#' || p[0] == '!' {
			return "", fmt.Errorf("%q is no pattern for .gitattributes", p)
		}
	}
	program, err := command()
	if err != nil {
		return "", err
	}
	for _, kv := range settings(program) {
		if _, err := s.config(kv[0], kv[1]); err != nil {
			return "", err
		}
	}
	lines, err := readLines(file)
	if err != nil {
		return "", err
	}
	var add []string
	for _, p := range patterns {
		if want := attribute(p); !contains(lines, want) {
			add = append(add, want)
		}
	}
	if len(add) == 0 {
		return file, nil
	}
	if !contains(lines, comment) {
		add = append([]string{comment}, add...)
	}
	return file, writeLines(file, append(lines, add...))
}

func attribute(pattern string) string { return pattern + " diff=" + driver + " merge=" + driver }

// Remove takes out what Install wrote and nothing else.
func (s Scope) Remove() (string, error) {
	file, err := s.attributes()
	if err != nil {
		return "", err
	}
	for _, section := range []string{"diff.", "merge.", "mergetool."} {
		// A section that is not there is an error to git, and none to us.
		s.config("--remove-section", section+driver)
	}
	lines, err := readLines(file)
	if err != nil {
		return "", err
	}
	var kept []string
	for _, l := range lines {
		if l != comment && !strings.HasSuffix(l, attribute("")) {
			kept = append(kept, l)
		}
	}
	switch {
	case len(kept) == len(lines):
		return file, nil
	case len(kept) == 0:
		return file, os.Remove(file)
	}
	return file, writeLines(file, kept)
}

// command is how git calls this program: by its name where that is found on the
// path, else by its place.
func command() (string, error) {
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	if found, err := exec.LookPath(driver); err == nil {
		a, errA := os.Stat(found)
		b, errB := os.Stat(self)
		if errA == nil && errB == nil && os.SameFile(a, b) {
			return driver, nil
		}
	}
	// Git hands the line to a shell, on Windows too, where the shell reads
	// slashes.
	return "'" + strings.ReplaceAll(filepath.ToSlash(self), "'", `'\''`) + "'", nil
}

func readLines(file string) ([]string, error) {
	data, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	text := strings.TrimRight(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n")
	if text == "" {
		return nil, err
	}
	return strings.Split(text, "\n"), err
}

func writeLines(file string, lines []string) error {
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		return err
	}
	return tablefile.Replace(file, nil, func(w io.Writer) error {
		_, err := io.WriteString(w, strings.Join(lines, "\n")+"\n")
		return err
	})
}

func contains(lines []string, want string) bool {
	for _, l := range lines {
		if strings.TrimSpace(l) == want {
			return true
		}
	}
	return false
}
