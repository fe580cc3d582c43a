package main

import (
	"context"
	"errors"
	"fmt"
	"path"
	"time"

	"wainscot/api/store"
	"wainscot/pricing/pricebook"
)

type importVerb struct {
	Database string `help:"Database: a file, or the postgres: address of a server." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
	Workshop string `help:"Code of the workshop." required:"" placeholder:"CODE"`
	As       string `help:"E-mail address of the owner who does it. Left out, the workshop's only owner." placeholder:"EMAIL"`
	Try      bool   `help:"Only check; store nothing."`
	Dir      string `arg:"" help:"Folder with the folders catalogue and pricebook, as wainscot check and wainscot export have it."`
}

// Help is shown by wainscot import --help.
func (importVerb) Help() string {
	return `Publishes the catalogue in DIR/catalogue as the workshop's next release, unless it is the latest one already, and adds those editions of the price-book in DIR/pricebook that the workshop has not yet. All of it or, with any fault, nothing. An edition that is there already never changes: a correction gets a code and a first day of its own.

The server may be running; it offers the new release at once.

Example:

  wainscot import --database wainscot.db --workshop fenland our-catalogue-and-prices`
}

// Run imports.
func (v importVerb) Run(ctx context.Context, p *program) error {
	folder := onDisk(v.Dir)
	o, faults, err := readOffer(folder.in("catalogue"), folder.in("pricebook"))
	if err != nil {
		return err
	}
	if err := p.tell(faults); err != nil {
		return err
	}
	s, err := openStore(ctx, v.Database, p)
	if err != nil {
		return err
	}
	done, err := v.run(ctx, s, o)
	if err = errors.Join(err, s.Close()); err != nil {
		return err
	}
	done.say(p, v.Try)
	return nil
}

// imported is what an import did.
type imported struct {
	release string // in words
	added   []string
	there   []string
}

func (i imported) say(p *program, try bool) {
	fmt.Fprintln(p.Out, i.release)
	for _, code := range i.added {
		fmt.Fprintf(p.Out, "edition %s added\n", code)
	}
	for _, code := range i.there {
		fmt.Fprintf(p.Out, "edition %s was there\n", code)
	}
	if try {
		fmt.Fprintln(p.Out, "That was tried; nothing is stored.")
	}
}

// errTried rolls a try back.
var errTried = errors.New("only tried")

func (v importVerb) run(ctx context.Context, s *store.Store, o *offer) (imported, error) {
	as, err := s.Owner(ctx, v.Workshop, v.As)
	if err != nil {
		return imported{}, ownerProblem(err, v.Workshop, v.As)
	}
	catalogue, editions, err := o.packed()
	if err != nil {
		return imported{}, err
	}
	var done imported
	err = s.As(as).Write(ctx, func(tx store.WriteTx) error {
		done = imported{}
		workshop, err := tx.Workshop()
		if err != nil {
			return err
		}
		latest, err := tx.Releases(0, 1)
		if err != nil {
			return err
		}
		if len(latest) > 0 && latest[0].Hash == o.release.Hash() {
			done.release = fmt.Sprintf("release %d is this catalogue already", latest[0].Number)
		} else {
			kept, err := tx.PublishRelease(o.release.Hash(), catalogue)
			if err != nil {
				return err
			}
			done.release = fmt.Sprintf("release %d published", kept.Number)
		}
		for _, n := range editions {
			switch there, err := tx.Edition(n.Code); {
			case errors.Is(err, store.ErrNotFound):
				if n.Currency != workshop.Currency {
					return fmt.Errorf("edition %s is in %s and the workshop works in %s", n.Code, n.Currency, workshop.Currency)
				}
				if _, err := tx.AddEdition(n); err != nil {
					return addFault(n, err)
				}
				done.added = append(done.added, n.Code)
			case err != nil:
				return err
			case there.Hash != n.Hash:
				return fmt.Errorf("the workshop has an edition %s already, with other content, and an edition never changes: give the new one a code and a first day of its own", n.Code)
			default:
				done.there = append(done.there, n.Code)
			}
		}
		if err := o.fits(tx, workshop.TimeZone); err != nil {
			return err
		}
		if v.Try {
			return errTried
		}
		return nil
	})
	if errors.Is(err, errTried) {
		err = nil
	}
	return done, err
}

// packed is the offer as it is stored.
func (o *offer) packed() (store.Packed, []store.NewEdition, error) {
	text, err := o.release.Catalogue().MarshalJSON()
	if err != nil {
		return store.Packed{}, nil, err
	}
	var editions []store.NewEdition
	for _, k := range o.book.Editions() {
		e := k.Edition()
		text, err := e.MarshalJSON()
		if err != nil {
			return store.Packed{}, nil, err
		}
		editions = append(editions, store.NewEdition{
			Code: e.Code, InForceFrom: e.InForceFrom, Currency: e.Currency, Hash: k.Hash(), Document: store.Pack(text),
		})
	}
	return store.Pack(text), editions, nil
}

func addFault(n store.NewEdition, err error) error {
	if errors.Is(err, store.ErrTaken) {
		return fmt.Errorf("edition %s: another edition is in force from %s already; give this one another first day", n.Code, n.InForceFrom)
	}
	return err
}

// fits refuses what would leave the workshop without a price-book: the edition
// in force today, which may be an old one, must price the new catalogue.
func (o *offer) fits(tx store.WriteTx, zone string) error {
	place, err := time.LoadLocation(zone)
	if err != nil {
		return fmt.Errorf("the workshop's time zone: %w", err)
	}
	inForce, err := tx.EditionInForce(tx.Now().In(place).Format(time.DateOnly))
	if errors.Is(err, store.ErrNotFound) {
		return nil // none is in force yet
	}
	if err != nil {
		return err
	}
	text, err := inForce.Document.Unpack()
	if err != nil {
		return err
	}
	read, _, faults := pricebook.DecodeJSON(text)
	if err := faults.Err(); err != nil {
		return err
	}
	if _, faults := pricebook.Compile(o.release.Catalogue(), read); len(faults) > 0 {
		return fmt.Errorf("the edition %s, which is in force, does not fit this catalogue, and no quote could be made; nothing is stored:\n%w", inForce.Code, faults)
	}
	return nil
}

// ownerProblem says whom an import or export could not act for.
func ownerProblem(err error, workshop, email string) error {
	switch {
	case errors.Is(err, store.ErrNotFound) && email != "":
		return fmt.Errorf("there is no workshop %s with an owner %s; wainscot workshop list shows the workshops", workshop, email)
	case errors.Is(err, store.ErrNotFound):
		return fmt.Errorf("there is no workshop %s; wainscot workshop list shows those there are", workshop)
	case errors.Is(err, store.ErrSeveral):
		return fmt.Errorf("the workshop %s has several owners: say with --as which of them does it", workshop)
	}
	return err
}

// in is a folder in a folder.
func (p place) in(folder string) place {
	return onDisk(path.Join(p.name, folder))
}
