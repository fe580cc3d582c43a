package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// KeptAnswer is what was answered to a request that stored something, kept in
// the transaction that stored it, for when the same request comes again. It is
// one person's: no other's key finds it.
type KeptAnswer struct {
	// Key is what the sender named the request by.
	Key string
	// Fingerprint of the request, so that another one under the same key is
	// not given this answer.
	Fingerprint string
	Status      int
	// Location of what was made; "" for none.
	Location string
	// About is the address of what the answer tells of, for ForgetAnswers.
	About string
	// Version of what it tells of; 0 for none.
	Version int64
	Body    []byte
}

// KeptAnswer gives what the principal's request under this key was answered;
// ErrNotFound when it has stored nothing yet.
func (t ReadTx) KeptAnswer(key string) (KeptAnswer, error) {
	found, err := of[keptAnswerRow](t).where("person = ? AND request_key = ?", t.s.as.Person, key).first(1)
	if err != nil {
		return KeptAnswer{}, fmt.Errorf("kept answer: %w", err)
	}
	if len(found) == 0 {
		return KeptAnswer{}, ErrNotFound
	}
	return found[0].answer()
}

// KeepAnswer keeps an answer with what the transaction has stored. A key the
// person has used already is ErrTaken: the same request was served meanwhile,
// by another process, and what this one has done must not stay.
func (t WriteTx) KeepAnswer(a KeptAnswer) error {
	row := keptAnswerRow{
		Person: t.s.as.Person, RequestKey: a.Key, Fingerprint: a.Fingerprint, KeptUS: t.Now().UnixMicro(),
		Status: a.Status, Location: a.Location, About: a.About, Version: a.Version, Body: append([]byte{}, a.Body...),
	}
	if len(a.Body) >= packFrom {
		row.Packed, row.Body = 1, encoder().EncodeAll(a.Body, nil)
	}
	if err := jot(t, &row); err != nil {
		return fmt.Errorf("keeping the answer: %w", err)
	}
	return nil
}

// ClearAnswers takes away answers of the workshop that were kept before a
// moment, the oldest first, about so many at most.
func (t WriteTx) ClearAnswers(before time.Time, most int) error {
	oldest, err := of[keptAnswerAgeRow](t.ReadTx).where("kept_us < ?", before.UnixMicro()).order("kept_us").first(most)
	if err == nil && len(oldest) > 0 {
		err = of[keptAnswerRow](t.ReadTx).where("kept_us <= ?", oldest[len(oldest)-1].KeptUS).remove()
	}
	if err != nil {
		return fmt.Errorf("clearing kept answers: %w", err)
	}
	return nil
}

// ForgetAnswers takes away what is kept about the thing at an address: for
// when personal data is erased, of which such answers hold a copy. That is so
// seldom that it looks through all answers kept: an index would be one more
// thing to write with each.
func (t WriteTx) ForgetAnswers(about string) error {
	if err := of[keptAnswerRow](t.ReadTx).where("about = ?", about).remove(); err != nil {
		return fmt.Errorf("forgetting kept answers: %w", err)
	}
	return nil
}

type keptAnswerRow struct {
	WorkshopID  uuid.UUID `gorm:"primaryKey"`
	Person      uuid.UUID `gorm:"primaryKey"`
	RequestKey  string    `gorm:"primaryKey"`
	Fingerprint string
	KeptUS      int64
	Status      int
	Location    string
	About       string
	Version     int64
	Packed      int
	Body        []byte
}

// TableName for gorm.
func (*keptAnswerRow) TableName() string { return "kept_answers" }

func (r *keptAnswerRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *keptAnswerRow) answer() (KeptAnswer, error) {
	a := KeptAnswer{
		Key: r.RequestKey, Fingerprint: r.Fingerprint, Status: r.Status, Location: r.Location,
		About: r.About, Version: r.Version, Body: r.Body,
	}
	if r.Packed == 0 {
		return a, nil
	}
	var err error
	if a.Body, err = decoder().DecodeAll(r.Body, nil); err != nil {
		return a, fmt.Errorf("%w: %w", ErrDocument, err)
	}
	return a, nil
}

// keptAnswerAgeRow is a row without its body.
type keptAnswerAgeRow struct{ KeptUS int64 }

// TableName for gorm.
func (keptAnswerAgeRow) TableName() string { return "kept_answers" }
