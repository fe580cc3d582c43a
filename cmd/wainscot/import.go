package main

import (
	"context"
	"errors"
	"fmt"
	"path"

	"wainscot/api"
	"wainscot/api/store"
)

type importVerb struct {
	Database string `help:"Database: a file, or the postgres: address of a server." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
	Workshop string `help:"Code of the workshop." required:"" placeholder:"CODE"`
	As       string `help:"E-mail address of the owner who does it. Left out, the workshop's only owner." placeholder:"EMAIL"`
	Try      bool   `help:"Only check; store nothing."`

	Acknowledged string `help:"File of warnings that are acknowledged, each with its reason (format: ${acknowledged_format})." placeholder:"FILE"`

	Dir string `arg:"" help:"Folder with the folders catalogue and pricebook, as wainscot check and wainscot export have it."`
}

// Help is shown by wainscot import --help.
func (importVerb) Help() string {
	return `Publishes the catalogue in DIR/catalogue as the workshop's next release, unless it is the latest one already, and adds those editions of the price-book in DIR/pricebook that the workshop has not yet. All of it or, with any fault, nothing. What is new is proved first, as wainscot check does it, at the prices in force and those to come; a warning stops it until it is acknowledged, here or for the release before. An edition that is there already never changes: a correction gets a code and a first day of its own.

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
	said, err := p.acknowledged(v.Acknowledged)
	if err != nil {
		return err
	}
	s, err := openStore(ctx, v.Database, p)
	if err != nil {
		return err
	}
	done, err := v.run(ctx, p, s, o, said)
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

func (v importVerb) run(ctx context.Context, p *program, s *store.Store, o *offer, said acknowledged) (imported, error) {
	as, err := s.Owner(ctx, v.Workshop, v.As)
	if err != nil {
		return imported{}, ownerProblem(err, v.Workshop, v.As)
	}
	catalogue, editions, err := o.packed()
	if err != nil {
		return imported{}, err
	}
	var there importGround
	err = s.As(as).Read(ctx, func(tx store.ReadTx) (err error) {
		there, err = o.ground(tx, editions)
		return err
	})
	if err != nil {
		return imported{}, err
	}
	// Outside the transaction: others wait for it.
	proof, err := v.prove(p, o, &there, said)
	if err != nil {
		return imported{}, err
	}
	document, err := api.ProofDocument(proof)
	if err != nil {
		return imported{}, err
	}
	var done imported
	err = s.As(as).Write(ctx, func(tx store.WriteTx) error {
		done = imported{}
		switch now, err := o.ground(tx.ReadTx, editions); {
		case err != nil:
			return err
		case !now.same(&there):
			return errors.New("while it was proved, somebody published a release or added an edition: import it again")
		}
		done.there = there.has
		if there.published {
			done.release = fmt.Sprintf("release %d is this catalogue already", there.release)
		} else {
			kept, err := tx.PublishRelease(o.release.Hash(), catalogue)
			if err != nil {
				return err
			}
			if err := tx.KeepProof(kept.Number, document, api.Acknowledged(proof, there.acknowledged)); err != nil {
				return err
			}
			done.release = fmt.Sprintf("release %d published", kept.Number)
		}
		for _, n := range there.adds {
			if _, err := tx.AddEdition(n); err != nil {
				return addFault(n, err)
			}
			done.added = append(done.added, n.Code)
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
