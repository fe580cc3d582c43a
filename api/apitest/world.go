// Package apitest asks the API as a program outside would: an in-process
// server on the demo workshop and a second one, over a real database. Every
// exchange is held against the contract, request and answer, and every answer
// is searched for words that belong to the other workshop. The tests are the
// package; this file is the world they stand in.
package apitest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/api/store/storetest"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/testdata"
)

// Noon of the day it is at the beginning: the demo's second edition is in
// force.
var Noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// World is a server with two workshops.
type World struct {
	Store        *store.Store
	Server       *api.Server
	Ours, Theirs *Workshop // the demo workshop, and the other
	Log          *Log
	Clock        *Clock
	// Address of the database: a file, or on the PostgreSQL server that the
	// tests are run on.
	Address string

	drop func(context.Context) error
}

// Workshop is one of them, with a person in each role.
type Workshop struct {
	Code      string
	Principal map[auth.Role]auth.Principal
	Email     map[auth.Role]string
	Password  map[auth.Role]string
	// Token of each role, good for 15 minutes from Noon.
	Token map[auth.Role]string
	// Words are in its data and in nobody else's, in small letters.
	Words []string
	Other *Workshop
}

// SigningKey is what the server signs with.
var SigningKey = auth.Key{ID: "test", Secret: []byte("0123456789abcdef0123456789abcdef")}

// Open makes a world in an empty folder, or on the PostgreSQL server that
// storetest.Variable names. Close it after use.
func Open(ctx context.Context, folder string) (*World, error) {
	w := &World{Log: &Log{}, Clock: &Clock{now: Noon}}
	if err := w.database(ctx, folder); err != nil {
		return nil, err
	}
	if err := w.furnish(ctx); err != nil {
		return nil, errors.Join(err, w.Close())
	}
	return w, nil
}

// Close closes the store, and takes a database away that is not in the folder.
func (w *World) Close() error {
	var err error
	if w.Store != nil {
		err = w.Store.Close()
	}
	if w.drop != nil {
		err = errors.Join(err, w.drop(context.Background()))
	}
	return err
}

// database makes an empty one.
func (w *World) database(ctx context.Context, folder string) error {
	if storetest.OnPostgres() {
		d, err := storetest.New(ctx)
		w.Address, w.drop = d.Serve, d.Drop
		return err
	}
	w.Address = filepath.Join(folder, "test.db")
	_, err := store.Migrate(ctx, w.Address)
	return err
}

// furnish opens the database and puts the server and the two workshops in.
func (w *World) furnish(ctx context.Context) error {
	if err := w.start(ctx); err != nil {
		return err
	}
	people, err := demoPeople()
	if err != nil {
		return fmt.Errorf("the demo's people: %w", err)
	}
	ours, err := demoOffer()
	if err != nil {
		return fmt.Errorf("the demo's documents: %w", err)
	}
	theirs, err := otherOffer()
	if err != nil {
		return fmt.Errorf("the other workshop's documents: %w", err)
	}
	if w.Ours, err = w.open(ctx, people, ours); err != nil {
		return err
	}
	if w.Theirs, err = w.open(ctx, otherPeople(), theirs); err != nil {
		return err
	}
	w.Ours.Other, w.Theirs.Other = w.Theirs, w.Ours
	return nil
}

// start opens the database and makes a server of it.
func (w *World) start(ctx context.Context) error {
	var err error
	if w.Store, err = store.Open(ctx, w.Address, store.Options{Now: w.Clock.Now}); err != nil {
		return err
	}
	w.Server, err = api.New(api.Config{
		Store: w.Store, Keys: []auth.Key{SigningKey}, Now: w.Clock.Now,
		// The clock stands still between requests, so no bucket fills up again.
		Limits: api.Limits{PersonPerMinute: -1, WorkshopPerMinute: -1, AddressPerMinute: -1},
		Logger: slog.New(slog.NewJSONHandler(w.Log, &slog.HandlerOptions{Level: slog.LevelDebug})),
	})
	return err
}

// again is the same world with a store and a server of its own on the same
// database, as another process has. Close it before the first.
func (w *World) again(ctx context.Context) (*World, error) {
	other := *w
	other.drop = nil
	return &other, other.start(ctx)
}

// shopPeople is a workshop with its people, as demo/workshop.yaml has it.
type shopPeople struct {
	Code     string       `yaml:"code"`
	Name     string       `yaml:"name"`
	Country  string       `yaml:"country"`
	Currency string       `yaml:"currency"`
	TimeZone string       `yaml:"time_zone"`
	People   []shopPerson `yaml:"people"`

	// What is printed with a quote.
	Letterhead         quote.Letterhead         `yaml:"letterhead"`
	QuoteTerms         string                   `yaml:"quote_terms"`
	NotIncluded        []string                 `yaml:"not_included"`
	ValidDays          int                      `yaml:"valid_days"`
	KeepYears          int                      `yaml:"keep_years"`
	EnquirySources     []string                 `yaml:"enquiry_sources"`
	CancellationRights []quote.CancellationRule `yaml:"cancellation_rights"`
}

// settings are what the workshop has set; one that says nothing has set
// nothing.
func (p shopPeople) settings() store.SettingsContent {
	s := store.DefaultSettings(p.Name)
	if p.Letterhead.Name != "" {
		s.Country, s.Letterhead, s.QuoteTerms, s.NotIncluded = p.Country, p.Letterhead, p.QuoteTerms, p.NotIncluded
		s.ValidDays, s.KeepYears, s.EnquirySources, s.CancellationRights = p.ValidDays, p.KeepYears, p.EnquirySources, p.CancellationRights
	}
	return s
}

type shopPerson struct {
	Name     string    `yaml:"name"`
	Email    string    `yaml:"email"`
	Role     auth.Role `yaml:"role"`
	Password string    `yaml:"password"`
}

func demoPeople() (shopPeople, error) {
	text, err := fs.ReadFile(testdata.Demo, "demo/workshop.yaml")
	if err != nil {
		return shopPeople{}, err
	}
	var p shopPeople
	_, faults := document.Decode(document.File{Name: "workshop.yaml", Data: text}, &p, "wainscot-workshop/1")
	return p, faults.Err()
}

func otherPeople() shopPeople {
	p := shopPeople{Code: "quillfeather", Name: "Quillfeather Vans", Currency: "GBP", TimeZone: "Europe/London"}
	for _, role := range auth.Roles() {
		p.People = append(p.People, shopPerson{
			Name: "Quillfeather " + string(role), Email: string(role) + "@quillfeather.example",
			Role: role, Password: "the " + string(role) + " of quillfeather",
		})
	}
	return p
}

// open makes a workshop with one person in every role.
func (w *World) open(ctx context.Context, p shopPeople, o shopOffer) (*Workshop, error) {
	shop := &Workshop{
		Code: p.Code, Principal: map[auth.Role]auth.Principal{}, Email: map[auth.Role]string{},
		Password: map[auth.Role]string{}, Token: map[auth.Role]string{}, Words: []string{p.Code},
	}
	people := map[auth.Role]store.NewPerson{}
	for _, person := range p.People {
		shop.Email[person.Role], shop.Password[person.Role] = person.Email, person.Password
		shop.Words = append(shop.Words, strings.ToLower(person.Name))
		hash, err := hashOf(ctx, person.Password)
		if err != nil {
			return nil, err
		}
		people[person.Role] = store.NewPerson{Name: person.Name, Email: person.Email, Role: person.Role, PasswordHash: hash}
	}
	if len(people) != len(auth.Roles()) {
		return nil, fmt.Errorf("workshop %s has people in %d roles", p.Code, len(people))
	}
	made, owner, err := w.Store.CreateWorkshop(ctx, store.NewWorkshop{Code: p.Code, Name: p.Name, Currency: p.Currency, TimeZone: p.TimeZone}, people[auth.Owner])
	if err != nil {
		return nil, err
	}
	shop.Principal[auth.Owner] = auth.Principal{Workshop: made.ID, Person: owner.ID, Role: auth.Owner}
	as := w.Store.As(shop.Principal[auth.Owner])
	err = as.Write(ctx, func(tx store.WriteTx) error {
		if err := tx.BeginSettings(p.settings()); err != nil {
			return err
		}
		for role, n := range people {
			if role == auth.Owner {
				continue
			}
			p, err := tx.AddPerson(n)
			if err != nil {
				return err
			}
			shop.Principal[role] = auth.Principal{Workshop: made.ID, Person: p.ID, Role: role}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for role, p := range shop.Principal {
		if p, err = w.signIn(ctx, p, people[role].PasswordHash); err != nil {
			return nil, err
		}
		shop.Principal[role] = p
		if shop.Token[role], err = w.Issue(p, SigningKey); err != nil {
			return nil, err
		}
	}
	if o.release == nil {
		return shop, nil
	}
	if _, err := api.PublishRelease(ctx, as, o.release); err != nil {
		return nil, err
	}
	for _, k := range o.editions {
		if _, err := api.AddEdition(ctx, as, k); err != nil {
			return nil, err
		}
	}
	return shop, nil
}

// signIn begins a sign-in, without the slow password.
func (w *World) signIn(ctx context.Context, p auth.Principal, hash string) (auth.Principal, error) {
	first, err := auth.NewRenewal(p.Workshop, uuid.Must(uuid.NewV7()))
	if err != nil {
		return p, err
	}
	err = w.Store.As(p).Write(ctx, func(tx store.WriteTx) error { return tx.SignIn(first, hash) })
	p.SignIn = first.SignIn
	return p, err
}

// Issue makes a token as the server would, at the clock's moment.
func (w *World) Issue(p auth.Principal, key auth.Key) (string, error) {
	tokens, err := auth.NewTokens(auth.TokenOptions{Issuer: "wainscot", Audience: "wainscot", Keys: []auth.Key{key}, Now: w.Clock.Now})
	if err != nil {
		return "", err
	}
	token, _, err := tokens.Issue(p)
	return token, err
}

// hashes of the passwords, each made once: making one is slow on purpose.
var hashes sync.Map

func hashOf(ctx context.Context, password string) (string, error) {
	if hash, ok := hashes.Load(password); ok {
		return hash.(string), nil //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	passwords, err := auth.NewPasswords(1)
	if err != nil {
		return "", err
	}
	hash, err := passwords.Hash(ctx, password)
	hashes.Store(password, hash)
	return hash, err
}

// shopOffer is what a workshop sells.
type shopOffer struct {
	release  *bom.Release
	editions []*pricebook.Compiled
}

// demoOffer reads the demo workshop's once for all tests.
var demoOffer = sync.OnceValues(func() (shopOffer, error) {
	return readOffer(func(text []byte) []byte { return text })
})

// otherOffer is the demo's with every name replaced, so that any word of it in
// an answer to the demo workshop has come over the fence, and the other way.
var otherOffer = sync.OnceValues(func() (shopOffer, error) {
	n := 0
	return readOffer(func(text []byte) []byte {
		return nameLine.ReplaceAllFunc(text, func(line []byte) []byte {
			n++
			return fmt.Appendf(nil, "%sQuillfeather %d", nameLine.FindSubmatch(line)[1], n)
		})
	})
})

var nameLine = regexp.MustCompile(`(?m)^(\s+(?:- )?(?:name|title): |title: ).*$`)

func readOffer(change func([]byte) []byte) (shopOffer, error) {
	files, err := demoFiles("demo/catalogue")
	if err != nil {
		return shopOffer{}, err
	}
	for i := range files {
		files[i].Data = change(files[i].Data)
	}
	c, _, faults := catalogue.Decode(files)
	if err := faults.Err(); err != nil {
		return shopOffer{}, err
	}
	var o shopOffer
	if o.release, faults = bom.Compile(c); len(faults) > 0 {
		return shopOffer{}, faults
	}
	if files, err = demoFiles("demo/pricebook"); err != nil {
		return shopOffer{}, err
	}
	for _, f := range files {
		e, _, faults := pricebook.Decode([]document.File{f})
		if err := faults.Err(); err != nil {
			return shopOffer{}, err
		}
		k, faults := pricebook.Compile(c, e)
		if err := faults.Err(); err != nil {
			return shopOffer{}, err
		}
		o.editions = append(o.editions, k)
	}
	return o, nil
}

func demoFiles(folder string) (files []document.File, err error) {
	err = fs.WalkDir(testdata.Demo, folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := fs.ReadFile(testdata.Demo, path)
		files = append(files, document.File{Name: path, Data: text})
		return err
	})
	return files, err
}

// Clock is set by hand.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// Now ticks a microsecond at each look, so that things come one after another.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(time.Microsecond)
	return c.now
}

// Advance lets time pass.
func (c *Clock) Advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// Set sets it.
func (c *Clock) Set(now time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = now
}

// Log can be read while it is written.
type Log struct {
	mu sync.Mutex
	b  bytes.Buffer
}

// Write takes a line.
func (l *Log) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

// String is all that was written.
func (l *Log) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// misspelt is a link with another last letter.
func misspelt(link string) string {
	last := "A"
	if strings.HasSuffix(link, last) {
		last = "B"
	}
	return link[:len(link)-1] + last
}
