package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

type demoVerb struct {
	Dir    string `help:"Folder for the database; made if it is not there, and kept. Default: a temporary one, deleted at the end." placeholder:"DIR"`
	Listen string `help:"Address to serve on; port 0 takes a free one." default:"127.0.0.1:8080"`
	Once   bool   `help:"Print and end, without going on serving."`
}

// Help is shown by wainscot demo --help.
func (demoVerb) Help() string {
	return `Makes a fresh database, puts the invented demo workshop in it with its people, catalogue and price-book, has its salesperson ask the API for a quote on each file of choices, prints one of them as a table, says how to sign in, and serves. Nothing on the machine but the database is touched.

Examples:

  wainscot demo
  wainscot demo --listen 127.0.0.1:9000 --dir my-demo
  wainscot demo --once`
}

// shownChoices is the quote that the demo prints.
const shownChoices = "full-conversion-short-van.yaml"

// Run does all of it.
func (v demoVerb) Run(ctx context.Context, p *program) (err error) {
	database, forget, err := v.database()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, forget()) }()
	d, err := readDemo()
	if err != nil {
		return err
	}
	if _, err := store.Migrate(ctx, database); err != nil {
		return err
	}
	clock := &storyClock{now: p.Now}
	today := p.Now().UTC().Truncate(24 * time.Hour)
	opened, err := begins(d.story, today)
	if err != nil {
		return err
	}
	clock.tell(opened)
	played := *p
	played.Now = clock.Now
	s, err := store.Open(ctx, database, store.Options{Now: clock.Now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err := openDemo(ctx, s, d.workshop, d.offer); err != nil {
		return err
	}
	key, err := freshKey(rand.Reader)
	if err != nil {
		return err
	}
	return v.show(ctx, &played, s, key, d, &teller{demo: d, clock: clock, today: today})
}

// show serves, plays what happened before today and makes the sample quotes by
// way of the API, and prints; then it goes on serving until it is told to stop,
// unless once is enough.
func (v demoVerb) show(ctx context.Context, p *program, s *store.Store, key auth.Key, d *demo, t *teller) error {
	serving, stop := context.WithCancel(ctx)
	defer stop()
	listen := v.Listen
	if v.Once {
		listen = "127.0.0.1:0"
	}
	// Every request would be a line between the printed ones; what goes wrong
	// is worth one.
	log := slog.New(slog.NewTextHandler(p.Err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	addresses, ended := make(chan string, 1), make(chan error, 1)
	go func() {
		config := api.Config{Store: s, Keys: []auth.Key{key}, Logger: log}
		ended <- p.serve(serving, config, listen, func(address string) { addresses <- address })
	}()
	select {
	case err := <-ended:
		return err
	case address := <-addresses:
		t.address = "http://" + address
		err := t.play(serving, d.story)
		if err == nil {
			err = t.bank(serving)
		}
		if err == nil {
			err = p.showDemo(serving, d, t.address)
		}
		if ctx.Err() != nil {
			return <-ended // told to stop before all was shown: no fault
		}
		if err != nil {
			stop()
			return errors.Join(err, <-ended)
		}
		if v.Once {
			address = v.Listen // where it would be
		}
		p.sayHowToSignIn(d.workshop, "http://"+address)
	}
	if v.Once {
		fmt.Fprintln(p.Out, "\nThat was once; without --once it goes on serving there until Ctrl-C.")
		stop()
	} else {
		fmt.Fprintln(p.Out, "\nIt serves until Ctrl-C.")
	}
	return <-ended
}

// showDemo makes the sample quotes and prints them.
func (p *program) showDemo(ctx context.Context, d *demo, address string) error {
	sales, err := d.signIn(ctx, address, auth.Sales)
	if err != nil {
		return err
	}
	owner, err := d.signIn(ctx, address, auth.Owner)
	if err != nil {
		return err
	}
	quotes := grid{columns: []column{{title: "quote", right: true}, {title: "made from"}, {title: "base van"}, {title: "hours", right: true}, {title: "lines", right: true}, {title: "total with VAT", right: true}}}
	for _, sample := range d.samples {
		a, err := d.offer.answerAgain(sample)
		if err != nil {
			return err
		}
		van := baseVanName(d.offer.release.Catalogue(), sample.asked.Van.BaseVan)
		if !a.Resolution.Specification.Allowed {
			quotes.add("none", sample.name, van, "", "", "its choices clash")
			continue
		}
		c := sales
		if t := sample.asked.Terms; t != nil && (t.PriceList != "" || t.CreditDays != nil || t.Day != "") {
			c = owner // the trade's prices and credit are the owner's to give, and the prices of a day that may be over
		}
		q, err := c.createQuote(ctx, sample)
		if err != nil {
			return fmt.Errorf("%s: %w", sample.name, err)
		}
		quotes.add(fmt.Sprint(q.Number), sample.name, van, q.Totals.Hours, fmt.Sprint(len(a.Sheet.Lines)),
			grouped(q.Totals.Gross.Amount)+" "+q.Totals.Gross.Currency)
		if sample.name == shownChoices {
			p.showQuote(a, sample.name, q)
		}
	}
	fmt.Fprintln(p.Out, "Quotes")
	quotes.write(p.Out, 2, lineWidth)
	foreman, err := d.signIn(ctx, address, auth.Workshop)
	if err != nil {
		return err
	}
	if err := p.showFloor(ctx, foreman, d.offer); err != nil {
		return err
	}
	bookkeeper, err := d.signIn(ctx, address, auth.Books)
	if err != nil {
		return err
	}
	if err := p.showMoney(ctx, bookkeeper); err != nil {
		return err
	}
	if err := p.showBank(ctx, bookkeeper); err != nil {
		return err
	}
	return p.showBooks(ctx, bookkeeper)
}

// signIn signs one of the workshop's people in.
func (d *demo) signIn(ctx context.Context, address string, role auth.Role) (client, error) {
	person, err := d.workshop.person(role)
	if err != nil {
		return client{}, err
	}
	return signIn(ctx, address, d.workshop.Code, person.Email, person.Password)
}

// showQuote prints a quote as a table, all but its build sheet.
func (p *program) showQuote(a *answer, name string, q openapi.QuoteKept) {
	fmt.Fprintf(p.Out, "Quote %d, from testdata/demo/choices/%s. Its build sheet of %d lines is left out here.\n\n", q.Number, name, len(a.Sheet.Lines))
	out := printout{answer: *a, out: p.Out, width: lineWidth}
	out.print((&quoteVerb{Brief: true}).sections())
	fmt.Fprintln(p.Out)
}

// sayHowToSignIn prints who there is and what to type.
func (p *program) sayHowToSignIn(w *workshopFile, address string) {
	people := grid{columns: []column{{title: "role"}, {title: "name"}, {title: "e-mail"}, {title: "password"}}}
	for _, one := range w.People {
		people.add(string(one.Role), one.Name, one.Email, one.Password)
	}
	fmt.Fprintf(p.Out, "\nThe people of %s, who sign in to the workshop %s\n", w.Name, w.Code)
	people.write(p.Out, 2, lineWidth)
	as := w.People[0]
	fmt.Fprintf(p.Out, `
The API is at %[1]s, its contract at %[1]s/v1/openapi.yaml. To sign in, and to see the quotes with the token it gives:

  curl -s %[1]s/v1/sign-in -H 'Content-Type: application/json' \
    -d '{"workshop":"%[2]s","email":"%[3]s","password":"%[4]s"}'
  curl -s %[1]s/v1/quotes -H 'Authorization: Bearer TOKEN'
`, address, w.Code, as.Email, as.Password)
}

// database is where the demo keeps its database, and what is to be done about
// it in the end.
func (v demoVerb) database() (name string, forget func() error, err error) {
	const base = "wainscot.db"
	if v.Dir == "" {
		dir, err := os.MkdirTemp("", "wainscot-demo-")
		return filepath.Join(dir, base), func() error { return os.RemoveAll(dir) }, err
	}
	if err := os.MkdirAll(v.Dir, 0o700); err != nil {
		return "", nil, fmt.Errorf("--dir: %w", err)
	}
	name = filepath.Join(v.Dir, base)
	if _, err := os.Stat(name); !errors.Is(err, fs.ErrNotExist) {
		return "", nil, fmt.Errorf("%s is there already and a demo starts on a fresh one: name another --dir, or serve that one with wainscot serve --database %s", name, name)
	}
	return name, func() error { return nil }, nil
}
