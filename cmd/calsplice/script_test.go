package main

import (
	"flag"
	"fmt"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "write the expected output of scripts and goldens anew")

func TestMain(m *testing.M) {
	if os.Getenv("CALSPLICE_BE_THE_PROGRAM") != "" {
		if os.Getenv("CALSPLICE_HAVE_NO_PATIENCE") != "" {
			patience = 0
		}
		os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	testscript.Main(m, map[string]func(){
		"calsplice": func() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
		"testdrive": testdriveMain,
	})
}

// TestScripts runs the stories of testdata/script: each is a command session
// with its files and its expected output.
func TestScripts(t *testing.T) {
	testdata, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/script",
		UpdateScripts:       *update,
		RequireUniqueNames:  true,
		RequireExplicitExec: false,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			// concat prints files one behind the other.
			"concat": func(ts *testscript.TestScript, _ bool, args []string) {
				for _, name := range args {
					fmt.Fprint(ts.Stdout(), ts.ReadFile(name))
				}
			},
		},
		Setup: func(env *testscript.Env) error {
			// Scripts find shared documents and logs under $DATA.
			env.Setenv("DATA", testdata+"/../../testdata")
			return nil
		},
	})
}
