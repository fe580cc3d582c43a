package api

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
)

// listOrders gives a page of orders, the newest first.
func (s *Server) listOrders(c *gin.Context) error {
	filter := store.OrderFilter{State: order.State(c.Query("state")), Supplier: c.Query("supplier_code")}
	question := "orders " + string(filter.State) + " to " + filter.Supplier
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.OrderEntry, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.Orders(filter)
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Orders{Orders: mapped(list, contractOrderSummary), Next: next})
}

// getOrder gives one order.
func (s *Server) getOrder(c *gin.Context) error {
	found, content, err := s.pathOrder(c)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractOrder(found.OrderEntry, content, principal(c).Role.SeesCost()))
}

func (s *Server) pathOrder(c *gin.Context) (store.Order, *order.Order, error) {
	found, err := theOne(s, c, "order", store.ReadTx.Order)
	if err != nil {
		return found, nil, err
	}
	content, err := found.Content()
	return found, content, err
}

// addOrder keeps the draft of an order, with lines or with what is proposed.
func (s *Server) addOrder(c *gin.Context) error {
	asked, err := decode[openapi.NewOrder](c)
	if err != nil {
		return err
	}
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return err
	}
	supplier, ok := o.book.Supplier(asked.SupplierCode)
	if !ok {
		return unknownReference("/supplier_code", "supplier")
	}
	lines, err := orderLines(o.release.Catalogue(), asked.Lines, o.workshop.Currency)
	if err != nil {
		return err
	}
	if asked.FromProposal {
		if len(lines) > 0 {
			return supplyRefused(document.Faults{{Code: "both", At: "lines", Reason: "There are lines, and it is to have those proposed.", Remedy: "Leave one of the two out."}})
		}
		if lines, err = s.proposedLines(c, supplier.Code, asked.OrderBy); err != nil {
			return err
		}
	}
	draft, faults := order.New(supplier.Code, supplier.Name, lines)
	if len(faults) > 0 {
		return supplyRefused(faults)
	}
	packed, err := store.PackOrder(&draft)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := namedJobs(tx.ReadTx, draft.Lines); err != nil {
			return reply{}, err
		}
		made, err := tx.AddOrder(&draft, packed)
		if err != nil {
			return reply{}, err
		}
		return reply{status: http.StatusCreated, location: "/v1/orders/" + made.ID.String(), version: made.Version,
			body: contractOrder(made, &draft, principal(c).Role.SeesCost())}, nil
	})
}

// proposedLines are what is proposed for a supplier now.
func (s *Server) proposedLines(c *gin.Context, supplier, orderBy string) ([]order.Line, error) {
	n, err := s.suppliesNow(c)
	if err != nil {
		return nil, err
	}
	by, err := n.orderByAsked(orderBy)
	if err != nil {
		return nil, err
	}
	proposals, err := n.propose(by)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(proposals.Orders, func(p order.Proposal) bool { return p.Supplier == supplier })
	if at < 0 {
		return nil, &problem{code: openapi.ProblemCodeStateConflict, detail: "Nothing is proposed for this supplier until " + calendar.Said(by) + ".",
			remedy: "Name a later day, or give the lines."}
	}
	lines := mapped(proposals.Orders[at].Lines, func(l order.ProposedLine) order.Line {
		return order.Line{Kind: l.Kind, Code: l.Code, Name: l.Name, Unit: l.Unit, Quantity: l.Quantity, WantedOn: l.WantedOn, Job: l.Job, For: l.For, Certificate: l.Certificate}
	})
	for i := range lines {
		lines[i].For = lines[i].For[:min(len(lines[i].For), order.MaxFor)]
	}
	return lines[:min(len(lines), order.MaxLines)], nil
}

// orderLines reads the lines of an order.
func orderLines(c *catalogue.Catalogue, asked []openapi.OrderLineContent, currency string) ([]order.Line, error) {
	lines := make([]order.Line, len(asked))
	for i := range asked {
		a, at := &asked[i], "/lines/"+strconv.Itoa(i)
		l := order.Line{Kind: supply.Kind(a.Kind), Code: a.Code, WantedOn: a.WantedOn, Job: a.Job, InPlaceOf: a.InPlaceOf}
		if !nameLine(c, &l) {
			return nil, unknownReference(at+"/code", string(l.Kind))
		}
		var err error
		if l.Quantity, err = askedDecimal(at+"/quantity", a.Quantity); err != nil {
			return nil, err
		}
		for k := range a.For {
			f := order.For{Job: a.For[k].Job, Stage: a.For[k].Stage, WantedOn: a.For[k].WantedOn}
			if f.Quantity, err = askedDecimal(at+"/for/"+strconv.Itoa(k)+"/quantity", a.For[k].Quantity); err != nil {
				return nil, err
			}
			l.For = append(l.For, f)
		}
		if a.AgreedPrice.Amount != "" {
			unit, err := askedUnitPrice(at+"/agreed_price", a.AgreedPrice, currency)
			if err != nil {
				return nil, err
			}
			l.Agreed, l.UnitPrice = true, &unit
		}
		lines[i] = l
	}
	return lines, nil
}

// nameLine puts the catalogue's words into a line; false where it has none.
func nameLine(c *catalogue.Catalogue, l *order.Line) bool {
	if l.Kind == supply.Outside {
		for i := range c.OutsideWork {
			if w := &c.OutsideWork[i]; w.Code == l.Code {
				l.Name, l.Unit, l.Certificate = w.Name, "visit", w.Certificate
				return true
			}
		}
		return false
	}
	t := thingOf(c, l.Code)
	if t == nil {
		return false
	}
	l.Name, l.Unit = t.name, t.unit
	return true
}

// askedUnitPrice reads a price for one, in the workshop's money.
func askedUnitPrice(field string, m openapi.Money, currency string) (money.UnitPrice, error) {
	d, err := askedDecimal(field+"/amount", m.Amount)
	if err != nil {
		return money.UnitPrice{}, err
	}
	unit, err := money.NewUnitPrice(d, money.Currency(m.Currency))
	if err != nil || m.Currency != currency || d.Sign() < 0 {
		return unit, supplyRefused(document.Faults{{Code: "not_money", At: field[1:], Reason: "It is no price in the workshop's money.", Remedy: "Write an amount in " + currency + "."}})
	}
	return unit, nil
}

// namedJobs holds the jobs that lines name.
func namedJobs(tx store.ReadTx, lines []order.Line) error {
	known := map[string]bool{}
	for i := range lines {
		ids := []string{lines[i].Job}
		for _, f := range lines[i].For {
			ids = append(ids, f.Job)
		}
		for _, id := range ids {
			if known[id] {
				continue
			}
			if err := namedJob(tx, "/lines/"+strconv.Itoa(i), askedID(id)); err != nil {
				return err
			}
			known[id] = true
		}
	}
	return nil
}

// changeOrder gives a draft other lines.
func (s *Server) changeOrder(c *gin.Context) error {
	asked, err := decode[openapi.OrderContent](c)
	if err != nil {
		return err
	}
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return err
	}
	lines, err := orderLines(o.release.Catalogue(), asked.Lines, o.workshop.Currency)
	if err != nil {
		return err
	}
	return s.orderStep(c, func(tx store.WriteTx, was order.Order) (order.Order, document.Faults, error) {
		if err := namedJobs(tx.ReadTx, lines); err != nil {
			return was, nil, err
		}
		now, faults := was.Change(lines)
		return now, faults, nil
	}, nil)
}

// orderStep takes an order a step on, at the version that was seen. then, where
// there is one, writes what else comes of it.
func (s *Server) orderStep(c *gin.Context, step func(store.WriteTx, order.Order) (order.Order, document.Faults, error),
	then func(tx store.WriteTx, id uuid.UUID, now *order.Order) error,
) error {
	id, version, err := pathVersion(c, "order")
	if err != nil {
		return err
	}
	money := principal(c).Role.SeesCost()
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		kept, err := tx.Order(id)
		if err != nil {
			return reply{}, err
		}
		if kept.Version != version {
			return reply{}, store.ErrStale
		}
		was, err := kept.Content()
		if err != nil {
			return reply{}, err
		}
		now, faults, err := step(tx, *was)
		if err != nil {
			return reply{}, err
		}
		if len(faults) > 0 {
			return reply{}, supplyRefused(pointed(faults))
		}
		packed, err := store.PackOrder(&now)
		if err != nil {
			return reply{}, err
		}
		entry, err := tx.ChangeOrder(id, version, &now, packed)
		if err == nil && then != nil {
			err = then(tx, id, &now)
		}
		if err != nil {
			return reply{}, refusedBy(err)
		}
		return reply{status: http.StatusOK, version: entry.Version, body: contractOrder(entry, &now, money)}, nil
	})
	return notFoundIs(err, "order")
}

// pointed makes the places of faults, whose lists are counted from 1, JSON
// pointers'.
func pointed(faults document.Faults) document.Faults {
	out := slices.Clone(faults)
	for i := range out {
		parts := strings.Split(out[i].At, "/")
		for k, part := range parts {
			if n, err := strconv.Atoi(part); err == nil && n > 0 {
				parts[k] = strconv.Itoa(n - 1)
			}
		}
		out[i].At = strings.Join(parts, "/")
	}
	return out
}

// placeOrder sends a draft to its supplier.
func (s *Server) placeOrder(c *gin.Context) error {
	asked, err := decode[openapi.PlaceOrder](c)
	if err != nil {
		return err
	}
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return err
	}
	return s.orderStep(c, func(tx store.WriteTx, was order.Order) (order.Order, document.Faults, error) {
		floor, err := tx.Floor()
		if err != nil {
			return was, nil, err
		}
		return was.Place(o.book, floor.Content.Calendar, o.day, asked.Knowing)
	}, nil)
}

// deliverOrder takes in what came, and puts parts on the shelf.
func (s *Server) deliverOrder(c *gin.Context) error {
	asked, err := decode[openapi.NewDelivery](c)
	if err != nil {
		return err
	}
	var currency string
	d := order.Delivery{On: asked.On, Note: asked.Note, By: principal(c).Person.String()}
	err = s.readTx(c, func(tx store.ReadTx) error {
		w, err := tx.Workshop()
		if err != nil {
			return err
		}
		currency = w.Currency
		today, err := today(tx.Now(), w.TimeZone)
		switch {
		case d.On == "":
			d.On = today
		case d.On > today:
			return supplyRefused(document.Faults{{Code: "to_come", At: "on", Reason: "That day is still to come.", Remedy: "Take it in when it has come."}})
		}
		return err
	})
	if err != nil {
		return err
	}
	if d.Lines, d.Carriage, err = deliveredLines(&asked, currency); err != nil {
		return err
	}
	return s.orderStep(c, func(_ store.WriteTx, was order.Order) (order.Order, document.Faults, error) {
		for i := range d.Lines {
			if l := &d.Lines[i]; l.Code == "" && l.Line >= 1 && l.Line <= len(was.Lines) {
				l.Code = was.Lines[l.Line-1].Code
			}
		}
		now, faults := was.Deliver(d)
		return now, faults, nil
	}, shelve)
}

func deliveredLines(asked *openapi.NewDelivery, currency string) (lines []order.DeliveredLine, carriage *money.Amount, err error) {
	for i := range asked.Lines {
		a, at := &asked.Lines[i], "/lines/"+strconv.Itoa(i)
		l := order.DeliveredLine{Line: int(a.Line), Code: a.Code}
		if l.Quantity, err = askedDecimal(at+"/quantity", a.Quantity); err != nil {
			return nil, nil, err
		}
		if a.Noted != "" {
			noted, err := askedDecimal(at+"/noted", a.Noted)
			if err != nil {
				return nil, nil, err
			}
			l.Noted = &noted
		}
		if a.UnitPrice.Amount != "" {
			unit, err := askedUnitPrice(at+"/unit_price", a.UnitPrice, currency)
			if err != nil {
				return nil, nil, err
			}
			l.UnitPrice = &unit
		}
		lines = append(lines, l)
	}
	if asked.Carriage.Amount != "" {
		amount, err := money.Parse(asked.Carriage.Amount, money.Currency(asked.Carriage.Currency))
		if err != nil {
			return nil, nil, supplyRefused(document.Faults{{Code: "not_money", At: "carriage", Reason: notMoney(err), Remedy: "Write an amount of the workshop's money."}})
		}
		carriage = &amount
	}
	return lines, carriage, nil
}

// shelve puts the parts of the last delivery into stock, those ordered for one
// job alone for it.
func shelve(tx store.WriteTx, id uuid.UUID, now *order.Order) error {
	d := &now.Deliveries[len(now.Deliveries)-1]
	for _, came := range d.Lines {
		line := &now.Lines[came.Line-1]
		if line.Kind != supply.Part {
			continue
		}
		move := store.StockMove{Movement: supply.Movement{Kind: supply.Delivered, Quantity: came.Quantity}, Order: id, Delivery: int64(d.Number)}
		after, _, err := tx.MoveStock(came.Code, move)
		if err != nil {
			return err
		}
		job, mine := askedID(line.Job), line.CameFor(came.Quantity)
		if job == uuid.Nil || came.Code != line.Code || mine.Sign() == 0 {
			continue
		}
		if _, err := tx.KeepStock(came.Code, job, after.KeptFor(line.Job).Add(mine)); err != nil {
			return err
		}
	}
	return nil
}

// expectOrder puts off a line.
func (s *Server) expectOrder(c *gin.Context) error {
	asked, err := decode[openapi.ExpectedLine](c)
	if err != nil {
		return err
	}
	return s.orderStep(c, func(_ store.WriteTx, was order.Order) (order.Order, document.Faults, error) {
		now, faults := was.Expect(int(asked.Line), asked.DueOn)
		return now, faults, nil
	}, nil)
}

func (s *Server) cancelOrder(c *gin.Context) error { return s.endOrder(c, order.Order.Cancel) }

func (s *Server) closeOrder(c *gin.Context) error { return s.endOrder(c, order.Order.Close) }

func (s *Server) endOrder(c *gin.Context, end func(order.Order, string) (order.Order, document.Faults)) error {
	return s.orderStep(c, func(tx store.WriteTx, was order.Order) (order.Order, document.Faults, error) {
		on, err := dayOf(tx.ReadTx)
		if err != nil {
			return was, nil, err
		}
		now, faults := end(was, on)
		return now, faults, nil
	}, nil)
}

// listHits tells whom a late order reaches.
func (s *Server) listHits(c *gin.Context) error {
	found, content, err := s.pathOrder(c)
	if err != nil {
		return err
	}
	n, err := s.suppliesNow(c)
	if err != nil {
		return err
	}
	id := found.ID.String()
	before := n.position
	before.Due = slices.Clone(n.position.Due)
	before.Due = slices.DeleteFunc(before.Due, func(d supply.Due) bool { return d.Order == id })
	asWanted := *content
	asWanted.Lines = slices.Clone(content.Lines)
	for i := range asWanted.Lines {
		asWanted.Lines[i].DueOn = min(asWanted.Lines[i].WantedOn, asWanted.Lines[i].DueOn)
	}
	before.Due = append(before.Due, asWanted.Due(id)...)
	hits, err := before.Hits(n.wants, n.position.Due)
	if err != nil {
		return err
	}
	out := openapi.Hits{Order: id, Hits: []openapi.LateWant{}}
	for _, h := range hits[:min(len(hits), maxWanted)] {
		w := &n.wants[h.Want]
		out.Hits = append(out.Hits, openapi.LateWant{
			Job: w.Job, JobNumber: n.number(w.Job), Stage: w.Stage, Code: h.Code, Name: nameIf(w, h.Code), Quantity: plain(h.Quantity), WantedOn: h.Wanted, There: h.There,
			Order: h.Order, OrderNumber: n.orderNumber(h.Order), OrderBy: h.StartBy,
		})
	}
	return answer(c, http.StatusOK, out)
}
