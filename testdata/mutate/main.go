// Mutate puts single mistakes into one package, one after the other, and asks
// the package's own tests whether they notice.
//
//	go run . [-n 200] [-seed 1] [-p 2] FOLDER
//
// FOLDER is a package of the module above, such as interp/cells. A mistake is:
// a condition that never holds, a comparison with the other bound or the
// opposite, one side of && and || left out, another operator of arithmetic,
// another constant beside an operator, a statement left out. Checks of err are
// left alone, since most of them no test can reach.
//
// All mistakes are compiled into one test binary, each behind a switch that the
// environment sets (see site.go), so that a mistake costs a run and no build.
// Each test is run once without any, to see which mistakes it reaches; a
// mistake is then shown to those tests alone, the quick ones first, and ends at
// the first that fails. One that no test reaches, or that all pass, is printed:
// it wants a test, or a line in equivalent.txt that says why none can tell.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

func main() {
	sample := flag.Int("n", 0, "how many mistakes, chosen by lot; 0 is all")
	seed := flag.Uint64("seed", 1, "of the lot")
	workers := flag.Int("p", 2, "test binaries side by side")
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "mutate: want one folder, such as interp/cells")
		os.Exit(2)
	}
	lived, err := run(flag.Arg(0), *sample, *seed, *workers, os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, "mutate:", err)
		os.Exit(2)
	}
	if lived > 0 {
		os.Exit(1)
	}
}

// run tries a package's mistakes and prints those that no test noticed.
func run(folder string, sample int, seed uint64, workers int, out io.Writer) (lived int, err error) {
	root, err := filepath.Abs("../..")
	if err != nil {
		return 0, err
	}
	work, err := os.MkdirTemp("", "mutate-*")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(work)
	b := &bench{folder: filepath.Join(root, folder), work: work, binary: filepath.Join(work, "tests")}
	sites, err := b.build(root, folder)
	if err != nil {
		return 0, err
	}
	if err := b.reach(); err != nil {
		return 0, err
	}
	if sample > 0 && sample < len(sites) {
		rand.New(rand.NewPCG(seed, 0)).Shuffle(len(sites), func(i, j int) { sites[i], sites[j] = sites[j], sites[i] })
		sites = sites[:sample]
		slices.SortFunc(sites, func(a, b *site) int { return a.number - b.number })
	}
	same, err := equivalents("equivalent.txt")
	if err != nil {
		return 0, err
	}
	sites = slices.DeleteFunc(sites, func(s *site) bool { return same[s.key(folder)] })
	unreached := 0
	b.try(sites, workers, func(s *site) {
		if s.killer != "" {
			return
		}
		lived++
		why := "all pass"
		if len(b.tests[s.number]) == 0 {
			why = "not reached"
			unreached++
		}
		fmt.Fprintf(out, "%s/%s:%d: %s (%s)\n\t%s\n", folder, s.file, s.line, s.what, why, s.key(folder))
	})
	killed := len(sites) - lived
	fmt.Fprintf(out, "%s: %d of %d mistakes noticed, %.0f %%; %d were reached by no test\n", folder, killed, len(sites),
		100*float64(killed)/float64(max(1, len(sites))), unreached)
	return lived, nil
}

// equivalents are the mistakes of which somebody found out that nothing can
// tell them: a line each, with the reason behind a tab.
func equivalents(file string) (map[string]bool, error) {
	text, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	same := map[string]bool{}
	for line := range strings.Lines(string(text)) {
		key, _, _ := strings.Cut(strings.TrimSpace(line), "\t")
		same[key] = true
	}
	return same, err
}

// bench is a package's test binary and what is known of its tests.
type bench struct {
	folder, work, binary string
	quiet                []string                 // flags that keep tests from leaving files behind
	took                 map[string]time.Duration // by test, without a mistake
	tests                map[int][]string         // by mistake, the tests that reach it, the quick ones first
}

// build compiles the tests with all mistakes in them.
func (b *bench) build(root, folder string) ([]*site, error) {
	p, err := load(root, folder)
	if err != nil {
		return nil, err
	}
	sites, texts := p.mutate()
	texts["zz_mutant.go"] = strings.Replace(strings.Replace(switchboard, "PACKAGE", p.name, 1), "COUNT", strconv.Itoa(len(sites)+1), 1)
	replace := map[string]string{}
	for name, text := range texts {
		file := filepath.Join(b.work, name)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			return nil, err
		}
		replace[filepath.Join(b.folder, name)] = file
	}
	overlay, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return nil, err
	}
	list := filepath.Join(b.work, "overlay.json")
	if err := os.WriteFile(list, overlay, 0o600); err != nil {
		return nil, err
	}
	cmd := exec.Command("go", "test", "-c", "-vet=off", "-overlay", list, "-o", b.binary, "./"+folder)
	cmd.Dir = root
	if said, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("the mistakes do not compile: %w\n%s", err, said)
	}
	return sites, nil
}

// switchboard is the file that is added to the package: it tells which mistake
// is on, and writes down the first time that the place of each is reached.
const switchboard = `package PACKAGE

import (
	"os"
	"strconv"
)

var (
	mutantNow, _ = strconv.Atoi(os.Getenv("MUTANT"))
	mutantMet    [COUNT]bool
	mutantList   = func() *os.File { f, _ := os.Create(os.Getenv("MUTANT_LIST")); return f }()
)

func mutantIs(n int) bool {
	if !mutantMet[n] {
		mutantFirst(n)
	}
	return n == mutantNow
}

func mutantFirst(n int) {
	mutantMet[n] = true
	if mutantList != nil {
		mutantList.WriteString(strconv.Itoa(n) + "\n")
	}
}
`

// reach runs each test alone, without a mistake.
func (b *bench) reach() error {
	if help, _ := b.run(context.Background(), nil, "-help"); strings.Contains(help, "rapid.nofailfile") {
		b.quiet = []string{"-rapid.nofailfile"}
	}
	said, err := b.run(context.Background(), nil, "-test.list", ".")
	if err != nil {
		return fmt.Errorf("%w: %s", err, said)
	}
	b.took, b.tests = map[string]time.Duration{}, map[int][]string{}
	hits := map[string][]int{}
	list := filepath.Join(b.work, "reached")
	for _, name := range strings.Fields(said) {
		if strings.HasPrefix(name, "Benchmark") {
			continue
		}
		os.Remove(list)
		start := time.Now()
		if said, err := b.run(context.Background(), []string{"MUTANT_LIST=" + list}, "-test.short", "-test.run", "^"+name+"$"); err != nil {
			return fmt.Errorf("%s fails without a mistake: %w\n%s", name, err, said)
		}
		b.took[name] = time.Since(start)
		text, _ := os.ReadFile(list)
		for _, word := range strings.Fields(string(text)) {
			n, _ := strconv.Atoi(word)
			hits[name] = append(hits[name], n)
		}
	}
	quick := slices.SortedFunc(maps.Keys(b.took), func(x, y string) int { return int(b.took[x] - b.took[y]) })
	for _, name := range quick {
		for _, n := range hits[name] {
			if !slices.Contains(b.tests[n], name) {
				b.tests[n] = append(b.tests[n], name)
			}
		}
	}
	return nil
}

// run runs the test binary in the package's folder, with bounded memory where
// the system has a shell for that.
func (b *bench) run(ctx context.Context, env []string, args ...string) (string, error) {
	args = append(slices.Clone(args), b.quiet...)
	cmd := exec.CommandContext(ctx, b.binary, args...)
	if shell, err := exec.LookPath("sh"); err == nil {
		cmd = exec.CommandContext(ctx, shell, append([]string{"-c", `ulimit -v 8000000 2>/dev/null; exec "$@"`, "sh", b.binary}, args...)...)
	}
	cmd.Dir = b.folder
	cmd.Env = append(os.Environ(), env...)
	cmd.WaitDelay = time.Second
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	err := cmd.Run()
	return out.String(), err
}

// try puts each mistake before the tests that reach it, and says of each in
// their order what became of it.
func (b *bench) try(sites []*site, workers int, tell func(*site)) {
	done := make([]chan struct{}, len(sites))
	for i := range done {
		done[i] = make(chan struct{})
	}
	queue := make(chan int)
	for range workers {
		go func() {
			for i := range queue {
				sites[i].killer = b.killer(sites[i])
				close(done[i])
			}
		}()
	}
	go func() {
		for i := range sites {
			queue <- i
		}
		close(queue)
	}()
	for i, s := range sites {
		<-done[i]
		tell(s)
	}
}

// together is how long tests may take that are run in one process.
const together = time.Second

// killer is a test that notices a mistake, "" where none does. A test that
// takes far longer than without it has noticed.
func (b *bench) killer(s *site) string {
	tests := b.tests[s.number]
	for len(tests) > 0 {
		n, took := 1, b.took[tests[0]]
		for n < len(tests) && took+b.took[tests[n]] < together {
			took += b.took[tests[n]]
			n++
		}
		ctx, stop := context.WithTimeout(context.Background(), 10*took+10*time.Second)
		_, err := b.run(ctx, []string{"MUTANT=" + strconv.Itoa(s.number)}, "-test.short", "-test.failfast", "-test.run", "^("+strings.Join(tests[:n], "|")+")$")
		stop()
		if err != nil {
			return tests[0]
		}
		tests = tests[n:]
	}
	return ""
}
