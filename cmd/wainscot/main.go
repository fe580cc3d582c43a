// Command wainscot is the whole of Wainscot in one program: the demo, the
// server, a quote from a file without a server, and what keeps a workshop's
// catalogue and database in order.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strconv"
	"syscall"
	"time"
	_ "time/tzdata" // a workshop's days are in its own time zone, also where the machine knows none

	"github.com/alecthomas/kong"

	"wainscot/api"
	"wainscot/bom"
)

func main() { os.Exit(runBy(time.Now)) }

// runBy is the command with the world as it is, but for the clock.
func runBy(now func() time.Time) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	p := program{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: now}
	return p.Run(ctx, os.Args[1:])
}

// program is the command with everything it knows of the world, so that a test
// runs the same one with a world of its own.
type program struct {
	In       io.Reader
	Out, Err io.Writer
	Now      func() time.Time
}

// verbs are what the command can do, in the order in which help teaches them.
type verbs struct {
	Demo     demoVerb     `cmd:"" help:"Start the demo workshop on a fresh database and show a finished quote."`
	Quote    quoteVerb    `cmd:"" help:"Print what the choices in a file come to: specification, price, hours, build sheet."`
	Why      whyVerb      `cmd:"" help:"Tell why something stands as it does, what contradicts, and the cheapest ways out."`
	Changes  changesVerb  `cmd:"" help:"Show what every change of the choices would do to price, hours and mass."`
	Settle   settleVerb   `cmd:"" help:"Finish what choices leave open: by defaults, as cheaply or as lightly as can be."`
	Check    checkVerb    `cmd:"" help:"Prove a catalogue and its price-book over everything they allow, and name every fault."`
	Compare  compareVerb  `cmd:"" help:"Tell what is different between two catalogues."`
	Serve    serveVerb    `cmd:"" help:"Serve the API on a database."`
	Migrate  migrateVerb  `cmd:"" help:"Bring a database up to what this program needs."`
	Workshop workshopVerb `cmd:"" help:"Open a workshop on a database, or list those there are."`
	Import   importVerb   `cmd:"" help:"Publish a catalogue and add the editions of its price-book."`
	Export   exportVerb   `cmd:"" help:"Write a workshop's catalogue and price-book as files."`
	Backup   backupVerb   `cmd:"" help:"Write everything the workshops have into one file, while the server runs."`
	Restore  restoreVerb  `cmd:"" help:"Put a backup into an empty database and prove that it is whole."`
	Health   healthVerb   `cmd:"" help:"Ask a running server whether it is alive."`
	Version  versionVerb  `cmd:"" help:"Print what this program is made of."`
}

const about = `Wainscot takes a customer's choices on a camper van to a specification in which every option has its reason, to the full bill of materials and labour hours, and to a price with VAT and a payment schedule.

To begin:

  wainscot demo
  wainscot quote testdata/demo/choices/full-conversion-short-van.yaml
  wainscot quote --help

It ends with 0 when all is well, 1 when what it was given has faults, 2 when it was called wrongly.`

// What the command ends with.
const (
	endWell   = 0
	endFaults = 1
	endUsage  = 2
)

// faulty is the error of a verb whose input has faults; they are already told.
var errTold = errors.New("the faults are told")

// Run does what the arguments ask and gives the number to end with.
func (p *program) Run(ctx context.Context, args []string) (code int) {
	// kong leaves through this function after printing help.
	type leave struct{ code int }
	defer func() {
		if r := recover(); r != nil {
			l, ok := r.(leave)
			if !ok {
				panic(r)
			}
			code = l.code
		}
	}()
	var v verbs
	parser, err := kong.New(&v,
		kong.Name("wainscot"),
		kong.Description(about),
		kong.Writers(p.Out, p.Err),
		kong.Exit(func(code int) { panic(leave{code}) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(p),
		kong.Vars{"choices_format": choicesFormat, "acknowledged_format": acknowledgedFormat, "proof_work": fmt.Sprint(bom.ProofWork / million), "section_names": sectionNames(), "line_width": fmt.Sprint(lineWidth), "memory_mib": strconv.Itoa(api.MemoryMiB)},
	)
	if err != nil {
		fmt.Fprintln(p.Err, "wainscot:", err)
		return endUsage
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	asked, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintf(p.Err, "wainscot: %v\nTry: wainscot --help\n", err)
		return endUsage
	}
	switch err := asked.Run(); {
	case err == nil:
		return endWell
	case errors.Is(err, errTold):
		return endFaults
	default:
		fmt.Fprintln(p.Err, "wainscot:", err)
		return endFaults
	}
}
