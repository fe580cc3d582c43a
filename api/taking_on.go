package api

import (
	"fmt"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/bom/supply"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/invoice"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/takeon"
)

// takingOn is a workshop that is being taken on: what was read, and all that can
// be made of it before anything is written.
type takingOn struct {
	ground    moneyGround
	catalogue *catalogue.Catalogue
	release   int64
	files     string // their hash
	read      takeon.TakeOn
	accounts  []takeon.AccountBalance
	jobs      []takenOnJob // as in read
}

// takenOnJob is a job as it will be kept.
type takenOnJob struct {
	content  job.Job
	price    *job.AgreedPrice
	document store.Packed
	work     schedule.Work
	slot     store.SlotContent // without stays: none
}

// comesTo is what is taken on, without ids.
func (t *takingOn) comesTo() store.TakeOnContent {
	o := store.TakeOnContent{Customers: len(t.read.Customers), Vans: len(t.read.Vans), Parts: len(t.read.Stock), Jobs: []uuid.UUID{}, Proofs: t.read.Proofs, Accounts: t.accounts}
	for i := range t.read.Jobs {
		o.Deposits += len(t.read.Jobs[i].Deposits)
		if len(t.read.Jobs[i].Stays) > 0 {
			o.Slots++
		}
	}
	return o
}

// readTakeOn reads the files and holds them against each other, the catalogue,
// the floor and the books. With faults nothing is to be written.
func (s *Server) readTakeOn(c *gin.Context, asked openapi.TakeOnFiles) (*takingOn, document.Faults, error) {
	o, err := s.catalogueOffer(c)
	if err != nil {
		return nil, nil, err
	}
	t := &takingOn{catalogue: o.release.Catalogue(), release: o.number, files: filesHash(asked), accounts: []takeon.AccountBalance{}}
	known := takeon.Known{On: asked.On, Catalogue: t.catalogue}
	var state document.Faults
	err = s.readTx(c, func(tx store.ReadTx) error {
		if t.ground, err = readMoneyGround(tx); err != nil {
			return err
		}
		floor, err := tx.Floor()
		if err != nil {
			return err
		}
		for _, p := range floor.Content.Places {
			known.Places = append(known.Places, p.Code)
		}
		state, err = mayTakeOn(tx, &t.ground, asked.On)
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	known.Today, known.Currency, known.CustomersMoneyApart = t.ground.today, t.ground.currency, t.ground.books.CustomersMoneyApart
	files := make([]takeon.File, len(asked.Files))
	for i, f := range asked.Files {
		files[i] = takeon.File{Name: string(f.Name), Text: f.Text}
	}
	var faults document.Faults
	if t.read, faults = takeon.Read(files, known); len(faults) > 0 || len(state) > 0 {
		return t, append(state, faults...).Limit(), nil
	}
	if t.accounts, err = t.read.Opening(); err != nil {
		return nil, nil, err
	}
	if err := t.make(principal(c).Person.String()); err != nil {
		return nil, nil, err
	}
	faults, err = s.slotsTakenOn(c, t)
	return t, faults, err
}

// mayTakeOn is what the books have against it.
func mayTakeOn(tx store.ReadTx, g *moneyGround, on string) (document.Faults, error) {
	var faults document.Faults
	fault := func(code, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: "on", Reason: reason, Remedy: remedy})
	}
	if on <= g.books.ClosedThrough {
		fault("closed", "The books are closed through "+calendar.Said(g.books.ClosedThrough)+".", "Take a later day, and its figures.")
	}
	n, err := tx.EnteredThrough(on)
	if err != nil {
		return nil, err
	}
	if n > 0 {
		fault("in_use", fmt.Sprintf("The books have %d entries on that day or before.", n), "Take a day before the first of them, and its figures.")
	}
	was, there, err := tx.TakeOnIfAny()
	if there {
		fault("in_use", "The workshop was taken on at the end of "+calendar.Said(was.On)+".", "Add what was left out one by one.")
	}
	return faults, err
}

// make makes the jobs as they will be kept.
func (t *takingOn) make(by string) error {
	act := job.Act{On: t.read.On, Today: t.ground.today, By: by}
	t.jobs = make([]takenOnJob, len(t.read.Jobs))
	for i := range t.read.Jobs {
		r, made := &t.read.Jobs[i], &t.jobs[i]
		content, err := job.TakeOn(act, job.NewTakenOn{
			BaseVan: t.read.Vans[r.Van].BaseVan, AgreedOn: r.AgreedOn, Key: r.Key, Says: r.Words, PromisedOn: r.PromisedOn, Hours: r.Hours,
			ArrivedOn: r.ArrivedOn, KeyHook: r.KeyHook, Stage: r.Stage, Papers: r.Papers, Release: t.release, Catalogue: t.catalogue,
		})
		if err != nil {
			return fmt.Errorf("job in line %d: %w", r.Line, err)
		}
		var faults document.Faults
		if made.content, made.price, faults = content.Agree("", t.read.On, r.Price); len(faults) > 0 {
			return fmt.Errorf("job in line %d: %w", r.Line, faults)
		}
		made.work = job.FloorWork(made.content.OwnSheet(t.catalogue), t.catalogue)
		if made.document, err = store.PackJob(&made.content); err != nil {
			return err
		}
	}
	return nil
}

// slotsTakenOn lays the hours that are left into the stays that were promised, in
// the order of the jobs, on the floor as it is booked.
func (s *Server) slotsTakenOn(c *gin.Context, t *takingOn) (document.Faults, error) {
	var faults document.Collector
	err := s.onPlan(c, func(tx store.ReadTx, plan *schedule.Plan) error {
		for i := range t.read.Jobs {
			r, made := &t.read.Jobs[i], &t.jobs[i]
			if len(r.Stays) == 0 {
				continue
			}
			fault := func(code, reason, remedy string) {
				faults.Add(document.Fault{File: "slots.csv", Line: r.SlotLine, At: "job", Code: code, Reason: reason, Remedy: remedy})
			}
			found, err := plan.Earliest(made.work, max(r.Stays[0].From, t.ground.today), nil)
			if err != nil || !found.Found {
				fault("no_slot", "The hours that are left fit into no days as far as one can plan.", "Look at the crew and its trades, or leave the slot out and book it later.")
				continue
			}
			days := found.Slot
			days.Stays = r.Stays
			key := "job " + r.Key
			for _, f := range withNumbers(tx, plan.Fits(key, made.work, days)) {
				fault(f.Code, f.Reason, "Give other days, or leave the slot out and book it later.")
			}
			made.slot = store.SlotContent{State: schedule.Held, Days: days}
			if r.ArrivedOn != "" {
				made.slot.State, made.slot.ConfirmedOn = schedule.Firm, t.ground.today
			}
			if _, taken := plan.Booked(key); !taken {
				plan.Book(key, days)
				defer plan.Take(key)
			}
		}
		return nil
	})
	return faults.Faults(), err
}

// writeTakeOn writes all of it.
func (s *Server) writeTakeOn(tx store.WriteTx, t *takingOn) (store.TakeOn, error) {
	state, err := mayTakeOn(tx.ReadTx, &t.ground, t.read.On)
	if err == nil {
		err = state.Err()
	}
	if err != nil {
		return store.TakeOn{}, err
	}
	entries, err := t.writeJobs(tx)
	if err != nil {
		return store.TakeOn{}, err
	}
	if err := s.writeSlots(tx, t, entries); err != nil {
		return store.TakeOn{}, err
	}
	done := store.TakeOn{On: t.read.On, FilesSHA256: t.files, Content: t.comesTo()}
	for _, e := range entries {
		done.Content.Jobs = append(done.Content.Jobs, e.ID)
	}
	if err := t.writeBooks(tx, entries, &done.Content); err != nil {
		return store.TakeOn{}, err
	}
	for _, p := range t.read.Stock {
		// It is a count: so much is there, whatever was known before.
		if _, _, err := tx.MoveStock(p.Part, store.StockMove{Movement: supply.Movement{Kind: supply.Counted, Quantity: p.Quantity}, Knowing: true}); err != nil {
			return store.TakeOn{}, err
		}
	}
	return tx.AddTakeOn(done)
}

// writeJobs writes customers, vans and jobs with their prices.
func (t *takingOn) writeJobs(tx store.WriteTx) ([]store.JobEntry, error) {
	until, err := keptUntil(tx.ReadTx)
	if err != nil {
		return nil, err
	}
	customers := make([]uuid.UUID, len(t.read.Customers))
	for i := range t.read.Customers {
		r := &t.read.Customers[i]
		added, err := tx.AddCustomer(store.CustomerContent{Kind: r.Kind, Name: r.Name, GivenNames: r.GivenNames, Telephone: r.Telephone, Email: r.Email, Notes: r.Notes,
			Address: store.Address{Lines: r.AddressLines, Postcode: r.Postcode, Country: r.Country}, KeepUntil: until})
		if err != nil {
			return nil, err
		}
		customers[i] = added.ID
	}
	vans := make([]uuid.UUID, len(t.read.Vans))
	for i := range t.read.Vans {
		r := &t.read.Vans[i]
		content := store.VanContent{Facts: bom.Van{BaseVan: r.BaseVan, Registration: r.Registration, VIN: r.VIN, New: r.Registration == ""}}
		if r.Customer >= 0 {
			content.Customer = customers[r.Customer]
		}
		added, err := tx.AddVan(content)
		if err != nil {
			return nil, err
		}
		vans[i] = added.ID
	}
	entries := make([]store.JobEntry, len(t.jobs))
	for i := range t.jobs {
		r, made := &t.read.Jobs[i], &t.jobs[i]
		var err error
		if entries[i], err = tx.AddUnquotedJob(customers[r.Customer], vans[r.Van], store.NewJob{Content: made.content, Document: made.document}); err != nil {
			return nil, err
		}
		price := *made.price
		price.Job = entries[i].ID.String()
		if err := tx.AddAgreedPrice(entries[i].ID, &price); err != nil {
			return nil, err
		}
	}
	return entries, nil
}

// writeSlots books the slots, once the floor as the transaction sees it has room
// for all of them.
func (s *Server) writeSlots(tx store.WriteTx, t *takingOn, entries []store.JobEntry) error {
	err := s.onPlanToWrite(tx, func(plan *schedule.Plan) error {
		for i := range t.jobs {
			made, key := &t.jobs[i], entries[i].ID.String()
			if len(made.slot.Days.Stays) == 0 {
				continue
			}
			if faults := plan.Fits(key, made.work, made.slot.Days); len(faults) > 0 {
				return slotRefused(withNumbers(tx.ReadTx, faults), "files/")
			}
			plan.Book(key, made.slot.Days)
			defer plan.Take(key)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i := range t.jobs {
		if made := &t.jobs[i]; len(made.slot.Days.Stays) > 0 {
			if _, err := tx.PutSlot(entries[i].ID, 0, made.slot); err != nil {
				return err
			}
		}
	}
	return nil
}

// writeBooks writes the opening entries: what the accounts hold, and the deposits
// with the VAT that was declared on them.
func (t *takingOn) writeBooks(tx store.WriteTx, entries []store.JobEntry, o *store.TakeOnContent) error {
	ids := make([]uuid.UUID, len(entries))
	for i := range entries {
		ids[i] = entries[i].ID
	}
	b, err := tx.Book(ids)
	if err != nil {
		return err
	}
	enter := func(d ledger.Document, lines []ledger.Line) (ledger.Entry, error) {
		done, err := b.Enter(ledger.Entry{Day: t.read.On, Kind: ledger.TakenOn, Document: d, Lines: lines})
		if err == nil {
			o.LastEntry = done.Number
			if o.FirstEntry == 0 {
				o.FirstEntry = done.Number
			}
		}
		return done, err
	}
	var lines []ledger.Line
	for _, a := range t.read.Balances {
		if !a.Books.IsZero() {
			lines = append(lines, ledger.OpenBalance(a.Account, a.Books)...)
		}
	}
	if len(lines) > 0 {
		if _, err := enter(ledger.Document{Noun: "take-on", ID: t.read.On}, lines); err != nil {
			return err
		}
	}
	for i := range t.read.Jobs {
		id, customer := entries[i].ID.String(), contractID(entries[i].Customer)
		for _, d := range t.read.Jobs[i].Deposits {
			vat := []ledger.VATSum{d.VAT}
			done, err := enter(ledger.Document{Noun: "job", ID: id}, ledger.TakeOnDeposit(id, customer, d.Amount, vat))
			if err != nil {
				return err
			}
			head := invoice.Head{IssuedOn: d.Day, TaxPoint: d.Day, Job: id, Customer: customer, Currency: t.read.Currency, Basis: pricing.Gross, Letterhead: t.ground.settings.Letterhead}
			paper, err := invoice.NewTakenOn(head, fmt.Sprintf("Deposit on job %d", entries[i].Number), vat)
			if err == nil {
				_, err = tx.AddDepositTakenOn(entries[i].ID, paper, done.Number, d.Words)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}
