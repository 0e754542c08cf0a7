// Command oddcup runs blind difference tests of coffee from one laptop.
//
// It serves the host's console on the loopback address and the tasters' pages
// on the local network, and keeps everything in one file.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"reflect"
	"syscall"

	"github.com/alecthomas/kong"
)

// commands is the command line.
type commands struct {
	Serve    serveCommand    `cmd:"" help:"Run sessions: the console on this laptop, the tasters' pages on the local network."`
	Demo     demoCommand     `cmd:"" help:"Run an invented session with simulated tasters, whole, and print what it showed."`
	Check    checkCommand    `cmd:"" help:"Check a data file: the database, every journal's chain, the index."`
	Verify   verifyCommand   `cmd:"" help:"Re-check journals, seals and results of a data file or a session file; with digest and hash from paper, their origin too."`
	Export   exportCommand   `cmd:"" help:"Write one revealed session to a file that others can check."`
	Report   reportCommand   `cmd:"" help:"Write the test report of a revealed session as a PDF."`
	Import   importCommand   `cmd:"" help:"Keep another laboratory's session file, to be read on the console."`
	Backup   backupCommand   `cmd:"" help:"Write a checked copy of a data file."`
	Judges   judgesCommand   `cmd:"" help:"Tell the records of judges, and take earlier ones from paper."`
	Plan     planCommand     `cmd:"" help:"Work out how many assessors a test needs, or put the methods side by side."`
	Layout   layoutCommand   `cmd:"" help:"Draw a sealed layout for paper: codes in one file, the serving key in another."`
	Simulate simulateCommand `cmd:"" help:"Simulate sessions of each method, and hold their results to the exact risks."`
	Result   resultCommand   `cmd:"" help:"Analyse a count or a file of paper ballots."`
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends the program at once
	os.Exit(exitCode(run(ctx, os.Args[1:], os.Stdout, os.Stderr), os.Stderr))
}

// streams are where a command writes: answers to out, all else to err.
type streams struct {
	out, err io.Writer
}

// run parses args and carries the command out. Whatever it started has ended
// when it returns.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	var c commands
	exited := false
	parser, err := kong.New(&c,
		kong.Name("oddcup"),
		kong.Description("Blind difference tests of coffee, from one laptop."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(int) { exited = true }),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(streams{stdout, stderr}),
		kong.UsageOnError(),
	)
	if err != nil {
		return err
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if exited {
		return nil // help was asked for and given
	}
	if err != nil {
		return wrongUsage{hinted{err, "see: oddcup --help"}}
	}
	if name := emptyValue(k); name != "" {
		return usage(name+" is given without a value", "leave it out, or say what it is; a variable of the shell may be empty")
	}
	return k.Run()
}

// emptyValue names a flag or argument that was given as empty words: taken as left
// out, it would quietly do less than was asked for, such as verify without the hash
// from paper.
func emptyValue(k *kong.Context) string {
	for _, p := range k.Path {
		switch {
		case p.Flag != nil && k.FlagValue(p.Flag) == "":
			return "--" + p.Flag.Name
		case p.Positional != nil && p.Positional.Target.Kind() == reflect.String && p.Positional.Target.Len() == 0:
			return "<" + p.Positional.Name + ">"
		}
	}
	return ""
}

// hinted is an error with what to do about it.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

// interrupted is the exit code of a command that Ctrl-C cut off, as shells give
// it (common practice, no source). A server that was stopped has done its work.
const interrupted = 130

// exitCode reports an error to a person and gives the program's exit code.
func exitCode(err error, stderr io.Writer) int {
	switch {
	case err == nil:
		return 0
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "oddcup: interrupted")
		return interrupted
	}
	fmt.Fprintln(stderr, "oddcup: error:", err)
	var h hinted
	if errors.As(err, &h) {
		fmt.Fprintln(stderr, "oddcup: hint:", h.hint)
	}
	var w wrongUsage
	if errors.As(err, &w) {
		return 2
	}
	return 1
}
