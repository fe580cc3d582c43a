package store

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"wainscot/api/auth"
)

func keptAnswer(key string, body []byte) KeptAnswer {
	return KeptAnswer{
		Key: key, Fingerprint: strings.Repeat("f", 64), Status: 201, Location: "/v1/things/1",
		About: "/v1/things/1", Version: 3, Body: body,
	}
}

func TestKeptAnswers(t *testing.T) {
	t.Parallel()
	s, _, p := hands(t)
	other := workshop(t, s, "moorside")
	var second auth.Principal
	write(t, s, p, func(tx WriteTx) error {
		added, err := tx.AddPerson(NewPerson{Name: "Sal", Email: "sal@fenland.example", Role: auth.Sales, PasswordHash: "hash"})
		second = auth.Principal{Workshop: p.Workshop, Person: added.ID, Role: auth.Sales}
		return err
	})
	for key, body := range map[string][]byte{
		"empty": {}, "short": []byte(`{"a":1}`), "long": bytes.Repeat([]byte(`{"a":1}`), 2000),
	} {
		a := keptAnswer(key, body)
		for _, who := range []auth.Principal{p, second, other} { // keys are a person's own
			read(t, s, who, func(tx ReadTx) error {
				if got, err := tx.KeptAnswer(key); !errors.Is(err, ErrNotFound) {
					t.Errorf("%s: there before it was kept: %+v, %v", key, got, err)
				}
				return nil
			})
			write(t, s, who, func(tx WriteTx) error { return tx.KeepAnswer(a) })
			read(t, s, who, func(tx ReadTx) error {
				got, err := tx.KeptAnswer(key)
				if err != nil || !bytes.Equal(got.Body, body) || got.Status != 201 || got.Version != 3 ||
					got.Location != a.Location || got.Fingerprint != a.Fingerprint || got.About != a.About {
					t.Errorf("%s: %+v, %v", key, got, err)
				}
				return nil
			})
		}
	}
	read(t, s, p, func(tx ReadTx) error {
		row, err := of[keptAnswerRow](tx).where("request_key = 'long'").order("person").first(1)
		if len(row) != 1 || len(row[0].Body) > 1000 {
			t.Errorf("a long body takes %d bytes", len(row[0].Body))
		}
		return err
	})
	sound(t, s, p)
}

// A key used twice takes the second effect back with it.
func TestKeyUsedTwiceUndoesTheSecond(t *testing.T) {
	t.Parallel()
	s, _, p := hands(t)
	do := func(tx WriteTx) error {
		if _, err := tx.AddPerson(NewPerson{Name: "S", Email: tx.NewID().String() + "@fenland.example", Role: auth.Sales, PasswordHash: "h"}); err != nil {
			return err
		}
		return tx.KeepAnswer(keptAnswer("once", nil))
	}
	write(t, s, p, do)
	if err := s.As(p).Write(t.Context(), do); !errors.Is(err, ErrTaken) {
		t.Errorf("the second: %v", err)
	}
	read(t, s, p, func(tx ReadTx) error {
		list, err := tx.People()
		if len(list) != 2 {
			t.Errorf("%d people", len(list))
		}
		return err
	})
	sound(t, s, p)
}

func TestKeptAnswersGo(t *testing.T) {
	t.Parallel()
	s, us, p := hands(t)
	other := workshop(t, s, "moorside")
	keep := func(who auth.Principal, keys ...string) {
		for _, key := range keys {
			us.Add(1)
			write(t, s, who, func(tx WriteTx) error { return tx.KeepAnswer(keptAnswer(key, nil)) })
		}
	}
	left := func(who auth.Principal, want int) {
		t.Helper()
		read(t, s, who, func(tx ReadTx) error {
			list, err := of[keptAnswerRow](tx).all()
			if len(list) != want {
				t.Errorf("%d answers are left, want %d", len(list), want)
			}
			return err
		})
	}
	keep(p, "a", "b", "c", "d")
	keep(other, "a", "b")
	us.Add(time.Hour.Microseconds())
	keep(p, "young")
	before := noon.Add(time.Minute)
	write(t, s, p, func(tx WriteTx) error { return tx.ClearAnswers(before, 3) })
	left(p, 2)
	write(t, s, p, func(tx WriteTx) error { return tx.ClearAnswers(before, 3) })
	left(p, 1) // the young one stays
	write(t, s, p, func(tx WriteTx) error { return tx.ClearAnswers(before, 3) })
	left(p, 1)
	left(other, 2)
	write(t, s, p, func(tx WriteTx) error { return tx.ForgetAnswers("/v1/things/2") })
	left(p, 1)
	write(t, s, p, func(tx WriteTx) error { return tx.ForgetAnswers("/v1/things/1") })
	left(p, 0)
	left(other, 2)
}
