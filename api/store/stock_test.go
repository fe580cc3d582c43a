package store

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/api/store/storetest"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/order"
)

func num(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func TestStockIsKept(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	j := agreedJob(t, s, p)
	move := func(m StockMove) (now Stock, did supply.Moved, err error) {
		err = s.As(p).Write(t.Context(), func(tx WriteTx) error {
			now, did, err = tx.MoveStock("hob_2", m)
			return err
		})
		return now, did, err
	}
	for _, c := range []struct {
		move    StockMove
		onHand  string
		refused string
	}{
		{StockMove{Movement: supply.Movement{Kind: supply.Issued, Quantity: num("1")}, Job: j}, "0", "below_nothing"},
		{StockMove{Movement: supply.Movement{Kind: supply.Counted, Quantity: num("2.50")}}, "2.5", ""},
		{StockMove{Movement: supply.Movement{Kind: supply.Issued, Quantity: num("1")}, Job: j, Stage: "frame"}, "1.5", ""},
		{StockMove{Movement: supply.Movement{Kind: supply.Scrapped, Quantity: num("2")}}, "1.5", "below_nothing"},
		{StockMove{Movement: supply.Movement{Kind: supply.Scrapped, Quantity: num("2")}, Knowing: true}, "-0.5", ""},
		{StockMove{Movement: supply.Movement{Kind: supply.Counted, Quantity: num("3")}}, "3", ""},
	} {
		now, _, err := move(c.move)
		var faults document.Faults
		if errors.As(err, &faults) != (c.refused != "") || (err == nil) != (c.refused == "") {
			t.Fatalf("%+v: %v", c.move, err)
		}
		if c.refused != "" && faults[0].Code != c.refused {
			t.Errorf("%+v: %v", c.move, faults)
		}
		if c.refused == "" && now.OnHand.String() != c.onHand {
			t.Errorf("%+v: %s on hand, want %s", c.move, now.OnHand, c.onHand)
		}
	}
	if _, _, err := move(StockMove{Movement: supply.Movement{Kind: supply.Issued, Quantity: num("1")}, Job: idNumber(99)}); !errors.Is(err, ErrMissing) {
		t.Errorf("issued to nobody: %v", err)
	}
	write(t, s, p, func(tx WriteTx) error {
		now, err := tx.KeepStock("hob_2", j, num("2"))
		if now.KeptFor(j.String()).String() != "2" {
			t.Errorf("kept %+v", now)
		}
		return err
	})
	read(t, s, p, func(tx ReadTx) error {
		now, err := tx.Stock("hob_2")
		if now.OnHand.String() != "3" || now.Version != 5 || now.Moved != 4 || len(now.Kept) != 1 {
			t.Errorf("the stock is %+v", now)
		}
		list, err2 := tx.StockMovements("hob_2", 0, 2)
		if len(list) != 2 || list[0].Number != 4 || list[0].Change.String() != "3.5" || !list[1].Knowing || list[1].OnHand.String() != "-0.5" {
			t.Errorf("movements %+v", list)
		}
		rest, err3 := tx.StockMovements("hob_2", list[1].Number, 9)
		if len(rest) != 2 || rest[0].Job != j || rest[0].Stage != "frame" {
			t.Errorf("movements %+v", rest)
		}
		ofJob, err4 := tx.MovedForJob(j)
		if len(ofJob) != 1 {
			t.Errorf("of the job %+v", ofJob)
		}
		return errors.Join(err, err2, err3, err4)
	})
	read(t, s, other, func(tx ReadTx) error {
		now, err := tx.Stock("hob_2")
		all, err2 := tx.AllStock()
		if now.Version != 0 || len(all) != 0 {
			t.Errorf("the other workshop has %+v", now)
		}
		return errors.Join(err, err2)
	})
	sound(t, s, p)
}

// Whatever moves in whichever order, on hand is the sum of the movements, and
// the journal vouches for it.
func TestStockOnHandIsTheSumOfItsMovements(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	j := agreedJob(t, s, p)
	rapid.Check(t, func(rt *rapid.T) {
		parts := []string{"hob_2", "cable", "glue"}
		for range rapid.IntRange(1, 12).Draw(rt, "movements") {
			m := StockMove{Movement: supply.Movement{
				Kind:     supply.MovementKind(rapid.SampledFrom(supply.MovementKind("").Words()).Draw(rt, "kind")),
				Quantity: decimal.New(int64(rapid.IntRange(0, 5000).Draw(rt, "thousandths")), -3),
			}, Knowing: rapid.Bool().Draw(rt, "knowing")}
			if m.Kind == supply.Issued || m.Kind == supply.PutBack {
				m.Job = j
			}
			part := rapid.SampledFrom(parts).Draw(rt, "part")
			err := s.As(p).Write(t.Context(), func(tx WriteTx) error {
				if rapid.IntRange(0, 9).Draw(rt, "keep") == 0 {
					_, err := tx.KeepStock(part, j, m.Quantity)
					return err
				}
				_, _, err := tx.MoveStock(part, m)
				return err
			})
			if _, refused := errors.AsType[document.Faults](err); err != nil && !refused {
				rt.Fatal(err)
			}
		}
		read(t, s, p, func(tx ReadTx) error {
			for _, part := range parts {
				now, err := tx.Stock(part)
				if err != nil {
					return err
				}
				var sum decimal.Decimal
				for before := int64(0); ; {
					list, err := tx.StockMovements(part, before, 7)
					if err != nil {
						return err
					}
					for _, m := range list {
						sum, before = sum.Add(m.Change), m.Number
					}
					if len(list) < 7 {
						break
					}
				}
				if !sum.Equal(now.OnHand) {
					rt.Fatalf("%s of %s are on hand, %s have moved", now.OnHand, part, sum)
				}
			}
			_, err := tx.VerifyJournal()
			return err
		})
	})
}

// What has moved is changed behind the store's back, and it is found.
func TestStockThatWasTamperedWith(t *testing.T) {
	t.Parallel()
	drop := "DROP TRIGGER movement_is_not_changed; DROP TRIGGER movement_is_not_removed; "
	if storetest.OnPostgres() {
		drop = "SET session_replication_role = replica; "
	}
	for statement, says := range map[string]string{
		`UPDATE stock_movements SET kind = 'adjusted' WHERE number = 2`: "the stock of hob_2 is not what has moved",
		`UPDATE stock_movements SET change = '9' WHERE number = 1`:      "movement 1 of hob_2",
		`DELETE FROM stock_movements WHERE number = 2`:                  "the stock of hob_2 is not what has moved",
		`UPDATE stock SET on_hand = '7'`:                                "stock hob_2 is not what was written",
	} {
		path := fresh(t)
		s := open(t, path, steady())
		p := workshop(t, s, "fenland")
		for range 2 {
			write(t, s, p, func(tx WriteTx) error {
				_, _, err := tx.MoveStock("hob_2", StockMove{Movement: supply.Movement{Kind: supply.Delivered, Quantity: num("2")}})
				return err
			})
		}
		sound(t, s, p)
		if err := otherLine(t, path).exec(t.Context(), drop+statement); err != nil {
			t.Fatal(err)
		}
		err := s.As(p).Read(t.Context(), func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
		if !errors.Is(err, ErrJournal) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", statement, err, says)
		}
	}
}

// Many at one part at once: none is lost.
func TestStockMovesSideBySide(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	const many = 40
	done := make(chan error, many)
	for range many {
		go func() {
			done <- s.As(p).Write(t.Context(), func(tx WriteTx) error {
				_, _, err := tx.MoveStock("screw", StockMove{Movement: supply.Movement{Kind: supply.Delivered, Quantity: num("0.1")}})
				return err
			})
		}()
	}
	for range many {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	read(t, s, p, func(tx ReadTx) error {
		now, err := tx.Stock("screw")
		if now.OnHand.String() != "4" || now.Moved != many {
			t.Errorf("%+v", now)
		}
		return err
	})
	sound(t, s, p)
}

func TestBins(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	write(t, s, p, func(tx WriteTx) error {
		b, err := tx.SetBin("screw", 0, num("100"), num("500"))
		if b.Version != 1 {
			t.Errorf("%+v", b)
		}
		return err
	})
	write(t, s, p, func(tx WriteTx) error {
		_, err := tx.SetBin("screw", 1, num("50.5"), num("500"))
		return err
	})
	for version, want := range map[int64]error{0: ErrTaken, 1: ErrStale} {
		err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := tx.SetBin("screw", version, num("1"), num("1")); return err })
		if !errors.Is(err, want) {
			t.Errorf("from version %d: %v, want %v", version, err, want)
		}
	}
	read(t, s, p, func(tx ReadTx) error {
		list, err := tx.Bins()
		if len(list) != 1 || list[0].Version != 2 || list[0].Least.String() != "50.5" {
			t.Errorf("%+v", list)
		}
		_, missing := tx.Bin("nail")
		if !errors.Is(missing, ErrNotFound) {
			t.Errorf("no bin: %v", missing)
		}
		return err
	})
	sound(t, s, p)
}

// anOrder is a draft.
func anOrder() *order.Order {
	o, faults := order.New("chandler", "Chandler", []order.Line{{Kind: supply.Part, Code: "hob_2", Name: "Hob", Unit: "each", Quantity: num("2"), WantedOn: "2026-05-04"}})
	if len(faults) > 0 {
		panic(faults)
	}
	return &o
}

func addOrder(tx WriteTx) (OrderEntry, error) {
	document, err := PackOrder(anOrder())
	if err != nil {
		return OrderEntry{}, err
	}
	return tx.AddOrder(anOrder(), document)
}

// supplyFor is a little of everything that is got hold of for a job.
func supplyFor(tx WriteTx, job uuid.UUID) error {
	o, err := addOrder(tx)
	if err != nil {
		return err
	}
	for _, m := range []StockMove{
		{Movement: supply.Movement{Kind: supply.Delivered, Quantity: num("2")}, Order: o.ID, Delivery: 1},
		{Movement: supply.Movement{Kind: supply.Issued, Quantity: num("1")}, Job: job, Stage: "frame"},
	} {
		if _, _, err := tx.MoveStock("hob_2", m); err != nil {
			return err
		}
	}
	if _, err := tx.KeepStock("hob_2", job, num("0.5")); err != nil {
		return err
	}
	if _, err := tx.SetBin("screw", 0, num("100"), num("500")); err != nil {
		return err
	}
	_, err = tx.AddSubstitute(Substitute{State: SubstituteAgreed, Part: "screw", With: "bolt", Job: job})
	return err
}

func TestOrders(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	var first OrderEntry
	write(t, s, p, func(tx WriteTx) (err error) {
		if first, err = addOrder(tx); err != nil {
			return err
		}
		_, err = addOrder(tx)
		return err
	})
	placed := anOrder()
	placed.State, placed.PlacedOn, placed.Edition = order.Placed, "2026-04-20", "2026-spring"
	placed.Lines[0].DueOn = "2026-05-06"
	document, err := PackOrder(placed)
	if err != nil {
		t.Fatal(err)
	}
	write(t, s, p, func(tx WriteTx) error {
		now, err := tx.ChangeOrder(first.ID, 1, placed, document)
		if now.Version != 2 || now.State != order.Placed || now.DueOn != "2026-05-06" {
			t.Errorf("placed %+v", now)
		}
		return err
	})
	err = s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := tx.ChangeOrder(first.ID, 1, placed, document); return err })
	if !errors.Is(err, ErrStale) {
		t.Errorf("changed from an old version: %v", err)
	}
	cancelled := anOrder()
	cancelled.State = order.Cancelled
	gone, err := PackOrder(cancelled)
	if err != nil {
		t.Fatal(err)
	}
	read(t, s, p, func(tx ReadTx) error {
		got, err := tx.Order(first.ID)
		if err != nil {
			return err
		}
		content, err := got.Content()
		if err != nil || content.PlacedOn != "2026-04-20" || got.Number != 1 || got.Edition != "2026-spring" {
			t.Errorf("%+v %+v", got.OrderEntry, content)
		}
		list, next, err := tx.Orders(OrderFilter{State: order.Placed, Supplier: "chandler"})
		if len(list) != 1 || next != nil || list[0].ID != first.ID {
			t.Errorf("%+v", list)
		}
		return err
	})
	write(t, s, p, func(tx WriteTx) error {
		standing, err := tx.StandingOrders()
		if len(standing) != 2 || standing[0].Number != 1 {
			t.Errorf("%d are standing", len(standing))
		}
		if err != nil {
			return err
		}
		_, err = tx.ChangeOrder(standing[1].ID, 1, cancelled, gone)
		return err
	})
	read(t, s, p, func(tx ReadTx) error {
		standing, err := tx.StandingOrders()
		if len(standing) != 1 {
			t.Errorf("%d are standing", len(standing))
		}
		return err
	})
	sound(t, s, p)
}

func TestSubstitutes(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	j := agreedJob(t, s, p)
	var once, always Substitute
	write(t, s, p, func(tx WriteTx) (err error) {
		if once, err = tx.AddSubstitute(Substitute{State: SubstituteWaiting, Part: "hob_2", With: "hob_1", Job: j, Shows: true}); err != nil {
			return err
		}
		always, err = tx.AddSubstitute(Substitute{State: SubstituteAgreed, Part: "screw", With: "bolt", From: "2026-05-01", Until: "2026-05-31"})
		return err
	})
	agreed := func() (list []supply.Substitute) {
		read(t, s, p, func(tx ReadTx) (err error) {
			list, err = tx.AgreedSubstitutes()
			return err
		})
		return list
	}
	if got, want := agreed(), []supply.Substitute{{Part: "screw", With: "bolt", From: "2026-05-01", Until: "2026-05-31"}}; !slices.Equal(got, want) {
		t.Errorf("agreed %+v", got)
	}
	write(t, s, p, func(tx WriteTx) (err error) {
		once.State, once.AgreedOn = SubstituteAgreed, "2026-04-20"
		if once, err = tx.ChangeSubstitute(once); err != nil {
			return err
		}
		always.State = SubstituteEnded
		_, err = tx.ChangeSubstitute(always)
		return err
	})
	if got, want := agreed(), []supply.Substitute{{Part: "hob_2", With: "hob_1", Job: j.String()}}; !slices.Equal(got, want) {
		t.Errorf("agreed %+v", got)
	}
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := tx.ChangeSubstitute(always); return err })
	if !errors.Is(err, ErrStale) {
		t.Errorf("changed from an old version: %v", err)
	}
	err = s.As(p).Write(t.Context(), func(tx WriteTx) error {
		_, err := tx.AddSubstitute(Substitute{State: SubstituteAgreed, Part: "a", With: "b", Job: uuid.Max})
		return err
	})
	if !errors.Is(err, ErrMissing) {
		t.Errorf("for no job: %v", err)
	}
	read(t, s, p, func(tx ReadTx) error {
		list, next, err := tx.Substitutes(nil, 1)
		if len(list) != 1 || next == nil {
			t.Errorf("%+v", list)
		}
		rest, _, err2 := tx.Substitutes(next, 5)
		if fmt.Sprint(len(rest)) != "1" || rest[0].Version != 2 || rest[0].AgreedOn != "2026-04-20" {
			t.Errorf("%+v", rest)
		}
		return errors.Join(err, err2)
	})
	sound(t, s, p)
}
