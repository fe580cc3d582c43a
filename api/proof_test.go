package api

import (
	"context"
	"io"
	"testing"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/quote/quotetest"
)

// A proof ends with the request that asked for it and is not remembered half;
// one that was made is, and nobody proves it again.
func TestProofEndsWithItsRequest(t *testing.T) {
	release := quotetest.Release()
	gone, leave := context.WithCancel(t.Context())
	leave()
	if proof, err := prove(gone, release, nil); err == nil {
		t.Errorf("for nobody it was proved: %+v", proof.Vans)
	}
	first, err := prove(t.Context(), release, nil)
	if err != nil || len(first.Vans) != 3 {
		t.Fatal(err)
	}
	for i, v := range first.Vans {
		if v.AtLeast {
			t.Errorf("base van %d is not counted exactly", i)
		}
	}
	again, err := prove(gone, release, nil) // nothing is left to do
	if err != nil || again != first {
		t.Errorf("again: %v", err)
	}
}

// What was proved is not kept on another ground: when meanwhile a release was
// published or an edition came into force.
func TestProofStandsOnItsGround(t *testing.T) {
	s := emptyServer(t, io.Discard)
	w, owner, err := s.store.CreateWorkshop(t.Context(), store.NewWorkshop{Code: "fenland", Name: "Fenland", Currency: "GBP", TimeZone: "Europe/London"},
		store.NewPerson{Name: "Sal", Email: "sal@fenland.example", Role: auth.Owner, PasswordHash: "x"})
	if err != nil {
		t.Fatal(err)
	}
	as := s.store.As(auth.Principal{Workshop: w.ID, Person: owner.ID, Role: auth.Owner})
	publish := func(tx store.WriteTx) error {
		_, err := tx.PublishRelease("hash", store.Pack([]byte("{}")))
		return err
	}
	edition := func(code, from string) func(tx store.WriteTx) error {
		return func(tx store.WriteTx) error {
			_, err := tx.AddEdition(store.NewEdition{Code: code, InForceFrom: from, Currency: "GBP", Hash: "hash of " + code, Document: store.Pack([]byte("{}"))})
			return err
		}
	}
	for _, c := range []struct {
		what   string
		do     func(tx store.WriteTx) error
		stands bool
	}{
		{"nothing is done", func(store.WriteTx) error { return nil }, true},
		{"the first release is published", publish, false},
		{"the first edition is added", edition("2020-01", "2020-01-01"), false},
		{"an edition that is overtaken already", edition("2019-01", "2019-01-01"), true},
		{"an edition for later", edition("2999-01", "2999-01-01"), true},
		{"another edition in force", edition("2020-02", "2020-02-01"), false},
		{"another release", publish, false},
	} {
		var b proofBasis
		err := as.Read(t.Context(), func(tx store.ReadTx) (err error) { b, err = readProofBasis(tx); return err })
		if err == nil {
			err = as.Write(t.Context(), c.do)
		}
		if err != nil {
			t.Fatal(c.what, err)
		}
		err = as.Read(t.Context(), func(tx store.ReadTx) error { return b.stands(tx) })
		told, conflict := err.(*problem) //nolint:errorlint // it is wrapped by nobody here
		if (err == nil) != c.stands || !c.stands && (!conflict || told.code != openapi.ProblemCodeStateConflict) {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}
