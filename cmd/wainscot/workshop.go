package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"
	"time"
	"unicode/utf8"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

type workshopVerb struct {
	Open workshopOpenVerb `cmd:"" help:"Open a workshop, with its owner, on a database."`
	List workshopListVerb `cmd:"" help:"List the workshops of a database."`
}

type workshopOpenVerb struct {
	Database   string `help:"Database: a file, or the postgres: address of a server." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
	Code       string `help:"What its people name it by when they sign in: small letters, digits, - and _." required:""`
	Name       string `help:"What it is called." required:""`
	Country    string `help:"Where it is: two letters (ISO 3166)." default:"GB"`
	Currency   string `help:"The money it works in: three letters (ISO 4217)." default:"GBP"`
	TimeZone   string `help:"Where its days begin and end: a name like Europe/London." default:"Europe/London"`
	OwnerName  string `help:"Name of its owner." required:""`
	OwnerEmail string `help:"E-mail address the owner signs in with." required:""`
}

// passwordVariable is where the password may stand; what stands on a command
// line others can read.
const passwordVariable = "WAINSCOT_OWNER_PASSWORD" //nolint:gosec // a name, no password

// Help is shown by wainscot workshop open --help.
func (workshopOpenVerb) Help() string {
	return `The owner's password is read from the variable ` + passwordVariable + `, or else is the first line of the input. It has at least 12 characters. The owner then signs in and lets the others in; letterhead, terms and the like are set over the API.

Examples:

  wainscot migrate --database wainscot.db
  wainscot workshop open --code fenland --name "Fenland Vans" --owner-name "Sal Moss" --owner-email sal@fenland.example < password
  wainscot import --workshop fenland our-catalogue-and-prices`
}

// Run opens the workshop.
func (v workshopOpenVerb) Run(ctx context.Context, p *program) error {
	if err := v.check(); err != nil {
		return err
	}
	password, err := ownerPassword(p.In)
	if err != nil {
		return err
	}
	s, err := openStore(ctx, v.Database, p)
	if err != nil {
		return err
	}
	settings := store.DefaultSettings(v.Name)
	settings.Country = v.Country
	_, err = openWorkshop(ctx, s, newWorkshop{
		NewWorkshop: store.NewWorkshop{Code: v.Code, Name: v.Name, Currency: v.Currency, TimeZone: v.TimeZone},
		settings:    settings,
		people:      []personFile{{Name: v.OwnerName, Email: v.OwnerEmail, Role: auth.Owner, Password: password}},
	})
	if errors.Is(err, store.ErrTaken) {
		err = fmt.Errorf("there is a workshop %s in %s already; choose another --code", v.Code, store.Shown(v.Database))
	}
	if err = errors.Join(err, s.Close()); err != nil {
		return err
	}
	fmt.Fprintf(p.Out, "Opened the workshop %s in %s; %s signs in with %s.\n", v.Code, store.Shown(v.Database), v.OwnerName, store.PlainEmail(v.OwnerEmail))
	return nil
}

var (
	workshopCode = regexp.MustCompile(`^[a-z0-9][a-z0-9_.-]{0,63}$`)
	country      = regexp.MustCompile(`^[A-Z]{2}$`)
	emailForm    = regexp.MustCompile(`^[^@\s]+@[^@\s]+$`)
)

// check finds all that is wrong with what was given.
func (v workshopOpenVerb) check() error {
	var faults []error
	fault := func(wrong bool, format string, args ...any) {
		if wrong {
			faults = append(faults, fmt.Errorf(format, args...))
		}
	}
	fault(!workshopCode.MatchString(v.Code), "--code %q: use small letters, digits, - and _, at most 64 of them", v.Code)
	fault(strings.TrimSpace(v.Name) == "" || len(v.Name) > 100, "--name %q: write a name of at most 100 letters", v.Name)
	fault(!country.MatchString(v.Country), "--country %q: use two capital letters, like GB", v.Country)
	_, err := money.FromMinor(0, money.Currency(v.Currency))
	fault(err != nil, "--currency %q: use three capital letters of ISO 4217, like GBP", v.Currency)
	_, err = time.LoadLocation(v.TimeZone)
	fault(err != nil || v.TimeZone == "" || v.TimeZone == "Local", "--time-zone %q: use a name like Europe/London", v.TimeZone)
	fault(strings.TrimSpace(v.OwnerName) == "" || len(v.OwnerName) > 100, "--owner-name %q: write a name of at most 100 letters", v.OwnerName)
	fault(!emailForm.MatchString(v.OwnerEmail) || len(v.OwnerEmail) > 254, "--owner-email %q: write an e-mail address", v.OwnerEmail)
	return errors.Join(faults...)
}

// Passwords, as the API takes them.
const (
	leastPassword = 12
	mostPassword  = 200
)

func ownerPassword(in io.Reader) (string, error) {
	password := os.Getenv(passwordVariable)
	if password == "" {
		line, err := bufio.NewReader(io.LimitReader(in, 4096)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", fmt.Errorf("reading the password: %w", err)
		}
		password = strings.TrimRight(line, "\r\n")
	}
	if n := utf8.RuneCountInString(password); n < leastPassword || n > mostPassword {
		return "", fmt.Errorf("the owner's password has %d characters and needs %d to %d: set %s, or write it as the first line of the input", n, leastPassword, mostPassword, passwordVariable)
	}
	return password, nil
}

type workshopListVerb struct {
	Database string `help:"Database: a file, or the postgres: address of a server." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
}

// Run lists them.
func (v workshopListVerb) Run(ctx context.Context, p *program) error {
	s, err := openStore(ctx, v.Database, p)
	if err != nil {
		return err
	}
	found, err := s.Workshops(ctx)
	if err = errors.Join(err, s.Close()); err != nil {
		return err
	}
	list := grid{columns: []column{{title: "code"}, {title: "name"}, {title: "currency"}, {title: "time zone"}, {title: "opened"}}}
	for _, w := range found {
		list.add(w.Code, w.Name, w.Currency, w.TimeZone, w.CreatedAt.Format(time.DateOnly))
	}
	list.write(p.Out, 0, lineWidth)
	return nil
}

// newWorkshop is what a workshop is opened with: its people, one of them an
// owner, the first of whom acts.
type newWorkshop struct {
	store.NewWorkshop
	settings store.SettingsContent
	people   []personFile
}

// openWorkshop opens a workshop, and gives whom to act for in it.
func openWorkshop(ctx context.Context, s *store.Store, w newWorkshop) (store.Handle, error) {
	var none store.Handle
	passwords, err := auth.NewPasswords(1)
	if err != nil {
		return none, err
	}
	var owner store.NewPerson
	var others []store.NewPerson
	for _, p := range w.people {
		hash, err := passwords.Hash(ctx, p.Password)
		if err != nil {
			return none, fmt.Errorf("%s: %w", p.Email, err)
		}
		n := store.NewPerson{Name: p.Name, Email: p.Email, Role: p.Role, PasswordHash: hash}
		if p.Role == auth.Owner && owner.Email == "" {
			owner = n
		} else {
			others = append(others, n)
		}
	}
	workshop, first, err := s.CreateWorkshop(ctx, w.NewWorkshop, owner)
	if err != nil {
		return none, err
	}
	as := s.As(auth.Principal{Workshop: workshop.ID, Person: first.ID, Role: auth.Owner})
	return as, as.Write(ctx, func(tx store.WriteTx) error {
		for _, n := range others {
			if _, err := tx.AddPerson(n); err != nil {
				return err
			}
		}
		return tx.BeginSettings(w.settings)
	})
}

// openStore opens a database that is there.
func openStore(ctx context.Context, database string, p *program) (*store.Store, error) {
	if path, file := store.AtFile(database); file {
		if _, err := os.Stat(path); err != nil {
			return nil, fmt.Errorf("there is no database %s: make one with wainscot migrate --database %s", path, path)
		}
	}
	return store.Open(ctx, database, store.Options{Now: p.Now})
}

// settings are what the file says the workshop has set; what it leaves out is
// as every workshop begins.
func (w *workshopFile) settings() store.SettingsContent {
	s := store.DefaultSettings(w.Name)
	s.Country = w.Country
	if w.Letterhead.Name != "" {
		s.Letterhead = w.Letterhead
	}
	s.QuoteTerms, s.NotIncluded, s.EnquirySources = w.QuoteTerms, w.NotIncluded, w.EnquirySources
	if w.ValidDays > 0 {
		s.ValidDays = w.ValidDays
	}
	if w.KeepYears != nil {
		s.KeepYears = *w.KeepYears
	}
	if len(w.CancellationRights) > 0 {
		s.CancellationRights = append([]quote.CancellationRule{}, w.CancellationRights...)
	}
	return s
}
