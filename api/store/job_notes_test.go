package store

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"testing"

	"github.com/google/uuid"

	"wainscot/pricing/job"
)

// workOn gives a job a photograph and an expected van, and the workshop a
// signatory.
func workOn(tx WriteTx, id uuid.UUID) error {
	was, err := tx.WholeJob(id)
	if err != nil {
		return err
	}
	photo := []byte("a photograph")
	sum := sha256.Sum256(photo)
	act := job.Act{On: "2026-05-20", Today: "2026-05-20", By: tx.Principal().Person.String()}
	now, faults := was.Content.Attach(&job.Plan{}, act, job.Attachment{MediaType: "image/png", SHA256: hex.EncodeToString(sum[:]), Bytes: len(photo)}, "her van")
	if len(faults) > 0 {
		return faults
	}
	if now, faults = now.Expect(act, "2026-06-01", "her brother", true, ""); len(faults) > 0 {
		return faults
	}
	document, err := PackJob(&now)
	if err != nil {
		return err
	}
	if _, err := tx.ChangeWholeJob(was, &now, document); err != nil {
		return err
	}
	if err := tx.KeepAttachment(id, int64(now.Attachments[0].Number), JobAttachment{MediaType: "image/png", Content: photo}); err != nil {
		return err
	}
	_, err = tx.AddSignatory("Register of gas fitters", "90210", SignatoryContent{Name: "Fen Gastby", Firm: "Gastby and Son", ExpiresOn: "2027-01-31", Signs: []string{"gas_test"}})
	return err
}

func TestWordsAndAttachmentsOfAJob(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	s := open(t, path, steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	id := agreedJob(t, s, p)
	write(t, s, p, func(tx WriteTx) error { return workOn(tx, id) })
	read(t, s, p, func(tx ReadTx) error {
		found, err := tx.WholeJob(id)
		if err != nil {
			return err
		}
		if got := strings.Join(found.Content.Words, "; "); got != "her van; her brother" || found.Version != 2 {
			t.Errorf("version %d says %q", found.Version, got)
		}
		a, err := tx.Attachment(id, 1)
		if string(a.Content) != "a photograph" {
			t.Errorf("the photograph is %q", a.Content)
		}
		return err
	})
	read(t, s, other, func(tx ReadTx) error {
		_, one := tx.WholeJob(id)
		_, two := tx.Attachment(id, 1)
		if !errors.Is(one, ErrNotFound) || !errors.Is(two, ErrNotFound) {
			t.Errorf("the other workshop sees it: %v, %v", one, two)
		}
		return nil
	})
	sound(t, s, p)
	// What is shown is held against its hash, and may be emptied.
	l := otherLine(t, path)
	for content, whole := range map[string]bool{"NULL": true, "(SELECT document FROM jobs)": false} {
		if err := l.exec(t.Context(), "UPDATE job_attachments SET content = "+content); err != nil {
			t.Fatal(err)
		}
		read(t, s, p, func(tx ReadTx) error {
			if _, err := tx.VerifyJournal(); (err == nil) != whole {
				t.Errorf("with the content %s: %v", content, err)
			}
			return nil
		})
	}
}

func TestSignatories(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	var one Signatory
	write(t, s, p, func(tx WriteTx) (err error) {
		one, err = tx.AddSignatory("Register of gas fitters", "90210", SignatoryContent{Name: "Fen Gastby", ExpiresOn: "2027-01-31", Signs: []string{"gas_test"}})
		return err
	})
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.ChangeSignatory(one.ID, 2, one.SignatoryContent); !errors.Is(err, ErrStale) {
			t.Errorf("at another version: %v", err)
		}
		return nil
	})
	write(t, s, p, func(tx WriteTx) error {
		c := one.SignatoryContent
		c.ExpiresOn, c.Signs = "", nil
		_, err := tx.ChangeSignatory(one.ID, 1, c)
		return err
	})
	read(t, s, p, func(tx ReadTx) error {
		list, err := tx.Signatories()
		if err != nil || len(list) != 1 || list[0].Version != 2 || list[0].ExpiresOn != "" || len(list[0].Signs) != 0 || list[0].RegisterNumber != "90210" {
			t.Errorf("signatories %+v, %v", list, err)
		}
		if _, err := tx.Signatory(uuid.New()); !errors.Is(err, ErrNotFound) {
			t.Errorf("nobody: %v", err)
		}
		return nil
	})
	sound(t, s, p)
}
