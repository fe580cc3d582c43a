package store

// Everything here goes round the scope of one workshop, and says why it must.

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// CreateWorkshop opens a workshop and lets its first person, an owner, in. A
// code that another workshop has is ErrTaken.
//
// Reason: before it there is no workshop, and nobody in it, to act for.
func (s *Store) CreateWorkshop(ctx context.Context, n NewWorkshop, owner NewPerson) (Workshop, Person, error) {
	var workshop workshopRow
	var first Person
	owner.Role = auth.Owner
	id := s.options.NewID()
	err := s.write(ctx, auth.Principal{Workshop: id, Role: auth.Owner}, func(tx WriteTx) error {
		db, err := tx.s.usable()
		if err != nil {
			return err
		}
		workshop = workshopRow{
			WorkshopID: id, Code: n.Code, Name: n.Name, Currency: n.Currency,
			TimeZone: n.TimeZone, CreatedUS: tx.Now().UnixMicro(),
		}
		if err := tx.s.note(db.Create(&workshop).Error); err != nil {
			return fmt.Errorf("workshop %q: %w", n.Code, err)
		}
		// The first line of the journal is by the owner, about the owner.
		row := newPersonRow(tx, owner)
		tx.s.as.Person = row.ID
		if err := insert(tx, added, &row); err != nil {
			return fmt.Errorf("owner: %w", err)
		}
		first = row.person()
		return tx.append(opened, "workshop", id.String(), nil)
	})
	if err != nil {
		return Workshop{}, Person{}, err
	}
	return workshop.workshop(), first, nil
}

// Workshops lists all workshops, by code.
//
// Reason: whoever runs the machine must be able to see which there are. No
// request reaches it.
func (s *Store) Workshops(ctx context.Context) ([]Workshop, error) {
	var found []workshopRow
	err := s.read(ctx, sight{list: true}, func(l *line) error {
		return l.gorm.WithContext(ctx).Order("code").Find(&found).Error
	})
	if err != nil {
		return nil, fmt.Errorf("workshops: %w", err)
	}
	list := make([]Workshop, len(found))
	for i, r := range found {
		list[i] = r.workshop()
	}
	return list, nil
}

// SignIn is what signing in is checked against.
type SignIn struct {
	Principal    auth.Principal
	PasswordHash string
}

// FindSignIn looks a person up by the code of the workshop and the e-mail
// address they gave. A workshop or person that is not there, and a person who
// has left, are all the same ErrNotFound; check the password against "" then,
// so that it takes as long.
//
// Reason: before somebody has signed in there is nobody to act for. Only the
// workshop is looked up without its scope, by its own unique code.
func (s *Store) FindSignIn(ctx context.Context, workshopCode, email string) (SignIn, error) {
	var found SignIn
	err := s.read(ctx, sight{code: workshopCode}, func(l *line) error {
		var workshop workshopRow
		err := l.gorm.WithContext(ctx).Where("code = ?", workshopCode).Take(&workshop).Error
		if err != nil {
			return plain(err)
		}
		if err := s.engine.see(ctx, l, sight{workshop: workshop.WorkshopID}); err != nil {
			return err
		}
		tx := s.session(ctx, l, auth.Principal{Workshop: workshop.WorkshopID})
		defer tx.end()
		person, err := of[personRow](ReadTx{tx}).where("email = ? AND left_us IS NULL", PlainEmail(email)).one()
		if err != nil {
			return err
		}
		found = SignIn{
			Principal:    auth.Principal{Workshop: workshop.WorkshopID, Person: person.ID, Role: auth.Role(person.Role)},
			PasswordHash: person.PasswordHash,
		}
		return nil
	})
	if err != nil {
		return SignIn{}, fmt.Errorf("signing in: %w", err)
	}
	return found, nil
}

// ErrSeveral means that there are several where one is needed.
var ErrSeveral = errors.New("there are several")

// Owner gives whom to act for in a workshop: the owner with that e-mail
// address, or, with "", its only owner; ErrSeveral when it has more.
//
// Reason: whoever runs the machine imports and exports without signing in. No
// request reaches it.
func (s *Store) Owner(ctx context.Context, workshopCode, email string) (auth.Principal, error) {
	var found auth.Principal
	err := s.read(ctx, sight{code: workshopCode}, func(l *line) error {
		var workshop workshopRow
		if err := l.gorm.WithContext(ctx).Where("code = ?", workshopCode).Take(&workshop).Error; err != nil {
			return plain(err)
		}
		if err := s.engine.see(ctx, l, sight{workshop: workshop.WorkshopID}); err != nil {
			return err
		}
		tx := s.session(ctx, l, auth.Principal{Workshop: workshop.WorkshopID})
		defer tx.end()
		query := of[personRow](ReadTx{tx}).where("role = ? AND left_us IS NULL", string(auth.Owner))
		if email != "" {
			query = query.where("email = ?", PlainEmail(email))
		}
		owners, err := query.first(2)
		switch {
		case err != nil:
			return err
		case len(owners) == 0:
			return ErrNotFound
		case len(owners) > 1:
			return ErrSeveral
		}
		found = auth.Principal{Workshop: workshop.WorkshopID, Person: owners[0].ID, Role: auth.Owner}
		return nil
	})
	if err != nil {
		return auth.Principal{}, fmt.Errorf("owner of %s: %w", workshopCode, err)
	}
	return found, nil
}

// FindLink gives the link that has a secret, by its SHA-256, in the workshop it
// names, and whom to act for when it is used: the person who made it, whether
// they are still there or not. A link that never was, or has been withdrawn, is
// ErrNotFound.
//
// Reason: a customer has no sign-in. Only the workshop that the link names is
// looked at, and nothing is told unless the secret is right.
func (s *Store) FindLink(ctx context.Context, workshop uuid.UUID, secretSHA256 string) (QuoteLink, auth.Principal, error) {
	var found QuoteLink
	err := s.read(ctx, sight{workshop: workshop}, func(l *line) (err error) {
		tx := s.session(ctx, l, auth.Principal{Workshop: workshop})
		defer tx.end()
		found, err = ReadTx{tx}.LinkOf(secretSHA256)
		return err
	})
	if err != nil {
		return QuoteLink{}, auth.Principal{}, err
	}
	return found, auth.Principal{Workshop: workshop, Person: found.MadeBy, Role: auth.Sales}, nil
}

// RenewSignIn puts the next renewal in the place of the old one and says whose
// sign-in it is, in the role they have now, and when it was begun. A sign-in
// that has ended or run out is ErrShutOut; an old renewal used again ends it
// and is ErrUsedAgain.
//
// Reason: who renews has no token any more. Only what the renewal names is
// looked at, in the workshop it names, and nothing is told unless its secret
// is right.
func (s *Store) RenewSignIn(ctx context.Context, old, next auth.Renewal) (p auth.Principal, begun time.Time, err error) {
	var row signInRow
	var refused error
	err = s.write(ctx, auth.Principal{Workshop: old.Workshop}, func(tx WriteTx) (err error) {
		row, p, refused, err = tx.renew(old, next)
		return err
	})
	if err == nil {
		err = refused
	}
	if err != nil {
		return auth.Principal{}, time.Time{}, fmt.Errorf("renewing a sign-in: %w", err)
	}
	return p, moment(row.BegunUS), nil
}
