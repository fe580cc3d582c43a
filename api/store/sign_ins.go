package store

import (
	"errors"
	"fmt"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// Errors of signing in and staying so.
var (
	// ErrShutOut: the sign-in has ended, or the person has left or has another
	// role than the one given.
	ErrShutOut = errors.New("no longer signed in")
	// ErrUsedAgain is an ErrShutOut: a renewal was used that had been used
	// before, so two hold it, and the sign-in has been ended for both.
	ErrUsedAgain = fmt.Errorf("%w: an old renewal was used again", ErrShutOut)
)

// Why a sign-in ended.
const (
	whySignedOut   = "signed out"
	whyUsedAgain   = "used again"
	whyRunOut      = "run out"
	whyTooMany     = "too many"
	whyPasswordSet = "password set"
	whyLeft        = "left"
)

// maxSignIns is how many sign-ins of one person hold at a time; one more ends
// the one longest not renewed.
const maxSignIns = 20

// Verbs of sign-ins in the journal. Renewing writes no line: it says nothing
// that the sign-in has not said.
const (
	signedIn = "signed in"
	endedIt  = "ended"
)

// Standing says whether the transaction's principal still is who they were
// when their token was made: nil, or ErrShutOut once the sign-in has ended, the
// person has left, or has another role. A principal without a sign-in is the
// program itself, and stands. Writes that are committed together look once for
// each principal, and again after one of them has changed a sign-in or a person.
func (t ReadTx) Standing() error {
	p := t.s.as
	if p.SignIn == uuid.Nil || t.s.stand[p] {
		return nil
	}
	found, err := of[signInRow](t).where(`id = ? AND person = ? AND ended_us IS NULL AND EXISTS (
		SELECT 1 FROM people WHERE people.workshop_id = sign_ins.workshop_id
		AND people.id = sign_ins.person AND people.role = ? AND people.left_us IS NULL)`,
		p.SignIn, p.Person, string(p.Role)).first(1)
	if err != nil {
		return fmt.Errorf("looking whether the sign-in holds: %w", err)
	}
	if len(found) == 0 {
		return ErrShutOut
	}
	if t.s.stand != nil && !t.s.shuts {
		t.s.stand[p] = true
	}
	return nil
}

// SignIn begins a sign-in of the transaction's principal, after the password
// was found good against passwordHash: if it has been changed meanwhile, or
// the person has left, it is ErrShutOut. first is the renewal that was made
// for it and carries the sign-in's id.
func (t WriteTx) SignIn(first auth.Renewal, passwordHash string) error {
	p := t.s.as
	person, err := of[personRow](t.ReadTx).where("id = ? AND left_us IS NULL", p.Person).first(1)
	if err != nil {
		return fmt.Errorf("signing in: %w", err)
	}
	if len(person) == 0 || person[0].PasswordHash != passwordHash || person[0].Role != string(p.Role) {
		return ErrShutOut
	}
	open, err := t.openSignIns(p.Person)
	if err != nil {
		return err
	}
	for len(open) >= maxSignIns {
		if err := t.endSignIn(open[0].ID, whyTooMany); err != nil {
			return err
		}
		open = open[1:]
	}
	now := t.Now().UnixMicro()
	return insert(t, signedIn, &signInRow{
		ID: first.SignIn, Person: p.Person, BegunUS: now, RenewedUS: now,
		FamilySHA256: first.FamilyHash(), CurrentSHA256: first.NewestHash(),
	})
}

// SignOut ends the transaction's own sign-in.
func (t WriteTx) SignOut() error { return t.endSignIn(t.s.as.SignIn, whySignedOut) }

// SignOutEverywhere ends all sign-ins of a person.
func (t WriteTx) SignOutEverywhere(person uuid.UUID) error {
	if _, err := t.Person(person); err != nil {
		return err
	}
	return t.endSignIns(person, whySignedOut)
}

// renew puts next in the place of old and gives the sign-in and whose it is. A
// refusal that ends the sign-in is in refused, because it must be committed; err
// is for all else.
func (t WriteTx) renew(old, next auth.Renewal) (row signInRow, p auth.Principal, refused, err error) {
	found, err := of[signInRow](t.ReadTx).where("id = ?", old.SignIn).first(1)
	if err != nil {
		return row, p, nil, err
	}
	if len(found) == 0 || found[0].FamilySHA256 != old.FamilyHash() || found[0].EndedUS != nil {
		return row, p, nil, ErrShutOut
	}
	row = found[0]
	t.s.as.Person = row.Person // the journal's line is by whom it is about
	person, err := of[personRow](t.ReadTx).where("id = ?", row.Person).one()
	if err != nil {
		return row, p, nil, err
	}
	now := t.Now()
	columns := map[string]any{"current_sha256": next.NewestHash()}
	switch {
	case person.LeftUS != nil:
		return row, p, ErrShutOut, t.endSignIn(row.ID, whyLeft)
	case now.Sub(moment(row.RenewedUS)) > auth.SignInIdle, now.Sub(moment(row.BegunUS)) > auth.SignInLongest:
		return row, p, ErrShutOut, t.endSignIn(row.ID, whyRunOut)
	case row.CurrentSHA256 == old.NewestHash():
		columns["previous_sha256"], columns["renewed_us"] = row.CurrentSHA256, now.UnixMicro()
	case row.PreviousSHA256 == old.NewestHash() && now.Sub(moment(row.RenewedUS)) <= auth.RenewalGrace:
		// The grace is counted from the first use: renewed_us stays.
	default:
		return row, p, ErrUsedAgain, t.endSignIn(row.ID, whyUsedAgain)
	}
	err = of[signInRow](t.ReadTx).where("id = ?", row.ID).set(columns, ErrNotFound)
	p = auth.Principal{Workshop: t.s.as.Workshop, Person: row.Person, Role: auth.Role(person.Role), SignIn: row.ID}
	return row, p, nil, err
}

// openSignIns are the sign-ins of a person that hold, the longest not renewed
// first.
func (t WriteTx) openSignIns(person uuid.UUID) ([]signInRow, error) {
	list, err := of[signInRow](t.ReadTx).where("person = ? AND ended_us IS NULL", person).order("renewed_us, id").all()
	if err != nil {
		return nil, fmt.Errorf("sign-ins of %s: %w", person, err)
	}
	return list, nil
}

func (t WriteTx) endSignIns(person uuid.UUID, why string) error {
	open, err := t.openSignIns(person)
	for _, row := range open {
		if err == nil {
			err = t.endSignIn(row.ID, why)
		}
	}
	return err
}

func (t WriteTx) endSignIn(id uuid.UUID, why string) error {
	which := of[signInRow](t.ReadTx).where("id = ? AND ended_us IS NULL", id)
	return change(t, endedIt, which, map[string]any{
		"ended_us": t.Now().UnixMicro(), "ended_why": why,
	}, ErrShutOut, &signInRow{ID: id})
}

// SignIns counts the sign-ins of a person that hold.
func (t ReadTx) SignIns(person uuid.UUID) (int, error) {
	open, err := WriteTx{t}.openSignIns(person)
	return len(open), err
}

// signInRow is a sign-in. Times of use are personal: no digest of them is in
// the journal.
type signInRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Person         uuid.UUID
	BegunUS        int64
	RenewedUS      int64
	EndedUS        *int64
	EndedWhy       string
	FamilySHA256   string `gorm:"column:family_sha256"`
	CurrentSHA256  string `gorm:"column:current_sha256"`
	PreviousSHA256 string `gorm:"column:previous_sha256"`
}

// TableName for gorm.
func (*signInRow) TableName() string { return signInsTable }

const signInsTable = "sign_ins"

func (r *signInRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *signInRow) journalled() (noun, id string, content []byte) {
	return "sign_in", r.ID.String(), nil
}
