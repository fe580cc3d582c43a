package api

import (
	"errors"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/store"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/openapi"
)

// thing is a part or kit of the catalogue as stock shows it.
type thing struct {
	code, name, unit string
	kit              *catalogue.Kit // nil for a part
}

// pathThing is the part or kit the address names. One of an older release that
// something ever moved of is known by its code alone.
func (s *Server) pathThing(c *gin.Context) (*thing, *catalogue.Catalogue, error) {
	o, err := s.catalogueOffer(c)
	if err != nil {
		return nil, nil, err
	}
	code := c.Param("part")
	if t := thingOf(o.release.Catalogue(), code); t != nil {
		return t, o.release.Catalogue(), nil
	}
	err = s.readTx(c, func(tx store.ReadTx) error {
		kept, err := tx.Stock(code)
		if err == nil && kept.Version == 0 {
			err = notFound("part or kit")
		}
		return err
	})
	return &thing{code: code}, o.release.Catalogue(), err
}

func thingOf(c *catalogue.Catalogue, code string) *thing {
	for i := range c.Parts {
		if p := &c.Parts[i]; p.Code == code {
			return &thing{code: code, name: p.Name, unit: string(p.Unit)}
		}
	}
	for i := range c.Kits {
		if k := &c.Kits[i]; k.Code == code {
			return &thing{code: code, name: k.Name, unit: string(catalogue.Each), kit: k}
		}
	}
	return nil
}

// listStock gives a page of what ever moved, by code.
func (s *Server) listStock(c *gin.Context) error {
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	const question = "stock"
	after := ""
	if cursor := c.Query("cursor"); cursor != "" {
		var ok bool
		if after, ok = s.readCursor(principal(c), question, cursor); !ok {
			return strayCursor()
		}
	}
	o, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	var list []store.Stock
	var bins []store.Bin
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if list, err = tx.Stocks(after, limit+1); err != nil {
			return err
		}
		bins, err = tx.Bins()
		return err
	})
	if err != nil {
		return err
	}
	page := openapi.StockList{Stock: []openapi.Stock{}}
	if len(list) > limit {
		list = list[:limit]
		page.Next = s.writeCursor(principal(c), question, list[limit-1].Part)
	}
	for i := range list {
		t := thingOf(o.release.Catalogue(), list[i].Part)
		if t == nil {
			t = &thing{code: list[i].Part}
		}
		page.Stock = append(page.Stock, contractStock(t, &list[i], binOf(bins, list[i].Part)))
	}
	return answer(c, http.StatusOK, page)
}

// getStock gives the stock of one part or kit.
func (s *Server) getStock(c *gin.Context) error {
	t, _, err := s.pathThing(c)
	if err != nil {
		return err
	}
	var body openapi.Stock
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		body, err = stockNow(tx, t)
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, body)
}

// stockNow is the stock of a part or kit with its bin.
func stockNow(tx store.ReadTx, t *thing) (openapi.Stock, error) {
	kept, err := tx.Stock(t.code)
	if err != nil {
		return openapi.Stock{}, err
	}
	bin, err := tx.Bin(t.code)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return openapi.Stock{}, err
	}
	return contractStock(t, &kept, bin), nil
}

// listStockMovements gives a page of movements, the latest first.
func (s *Server) listStockMovements(c *gin.Context) error {
	t, _, err := s.pathThing(c)
	if err != nil {
		return err
	}
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	question := "movements of " + t.code
	var before int64
	if cursor := c.Query("cursor"); cursor != "" {
		position, ok := s.readCursor(principal(c), question, cursor)
		if before, err = strconv.ParseInt(position, 10, 64); !ok || err != nil {
			return strayCursor()
		}
	}
	var list []store.StockMovement
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = tx.StockMovements(t.code, before, limit+1)
		return err
	})
	if err != nil {
		return err
	}
	page := openapi.StockMovements{}
	if len(list) > limit {
		list = list[:limit]
		page.Next = s.writeCursor(principal(c), question, strconv.FormatInt(list[limit-1].Number, 10))
	}
	page.Movements = mapped(list, contractMovement)
	return answer(c, http.StatusOK, page)
}

// moveStock keeps a movement; of a kit that was built also those of what was
// built in.
func (s *Server) moveStock(c *gin.Context) error {
	asked, err := decode[openapi.NewStockMovement](c)
	if err != nil {
		return err
	}
	t, offered, err := s.pathThing(c)
	if err != nil {
		return err
	}
	m := store.StockMove{
		Movement: supply.Movement{Kind: supply.MovementKind(asked.Kind)}, Job: askedID(asked.Job), Stage: asked.Stage, Knowing: asked.Knowing,
	}
	if m.Quantity, err = askedDecimal("/quantity", asked.Quantity); err != nil {
		return err
	}
	built, err := builtIn(offered, t, &asked, m.Quantity)
	if err != nil {
		return err
	}
	if err := s.readTx(c, func(tx store.ReadTx) error { return namedJob(tx, "/job", m.Job) }); err != nil {
		return err
	}
	var b *build
	if m.Job != uuid.Nil && m.Stage != "" {
		if b, err = s.buildOf(c, m.Job); err != nil {
			return err
		}
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		for _, u := range built {
			use := store.StockMove{Movement: supply.Movement{Kind: supply.BuiltIn, Quantity: u.quantity}, Kit: t.code, Knowing: m.Knowing, Stage: m.Stage}
			if _, _, err := tx.MoveStock(u.part, use); err != nil {
				return reply{}, refusedBy(err)
			}
		}
		switch {
		case b != nil && boardOf(b, t, &m):
			if err := b.onBoard(tx, principal(c).Person.String(), t.code, m); err != nil {
				return reply{}, err
			}
		case m.Job != uuid.Nil:
			if err := backFromNoStage(tx.ReadTx, t, &m); err != nil {
				return reply{}, err
			}
		}
		_, did, err := tx.MoveStock(t.code, m)
		if err != nil {
			return reply{}, refusedBy(err)
		}
		now, err := stockNow(tx.ReadTx, t)
		return reply{status: http.StatusCreated, body: openapi.MovedStock{Stock: now, BelowNothing: did.Below, KeptShort: did.Short}}, err
	})
}

// use is what was built into a kit.
type use struct {
	part     string
	quantity decimal.Decimal
}

// builtIn is what building a kit uses up: what is said, else what its recipe
// says, where that is the same for every van.
func builtIn(c *catalogue.Catalogue, t *thing, asked *openapi.NewStockMovement, quantity decimal.Decimal) ([]use, error) {
	kind := supply.MovementKind(asked.Kind)
	switch {
	case kind == supply.Delivered || kind == supply.BuiltIn:
		return nil, supplyRefused(document.Faults{{Code: "kind", At: "kind", Reason: "Deliveries come by their order, and what is built in by its kit.",
			Remedy: "Take the delivery in at its order, or say that the kit was built."}})
	case kind != supply.Built:
		return nil, nil
	case t.kit == nil:
		return nil, supplyRefused(document.Faults{{Code: "no_kit", At: "kind", Reason: "Only kits are built at the bench.", Remedy: "Name the kit."}})
	case len(asked.Uses) > 0:
		return saidUses(asked.Uses)
	}
	measured := slices.ContainsFunc(supply.Items(c), func(i supply.Item) bool { return i.Kind == supply.Kit && i.Code == t.code && i.Measured })
	if measured {
		return nil, supplyRefused(document.Faults{{Code: "no_uses", At: "uses", Reason: "What the kit takes depends on the van.", Remedy: "Say what was built in."}})
	}
	var list []use
	for _, i := range t.kit.Items {
		each := decimal.New(1, 0)
		if i.Quantity != "" {
			var err error
			if each, err = decimal.NewFromString(i.Quantity); err != nil {
				return nil, err
			}
		}
		list = append(list, use{i.Part + i.Kit, each.Mul(quantity)})
	}
	return list, nil
}

func saidUses(asked []openapi.BuiltIn) ([]use, error) {
	list := make([]use, len(asked))
	for i, u := range asked {
		q, err := askedDecimal("/uses/"+strconv.Itoa(i)+"/quantity", u.Quantity)
		if err != nil {
			return nil, err
		}
		list[i] = use{u.Part, q}
	}
	return list, nil
}

// askedDecimal reads a decimal, whose form the contract has checked.
func askedDecimal(field, text string) (decimal.Decimal, error) {
	d, err := decimal.NewFromString(text)
	if err != nil {
		return d, brokenField(field, "wrong_form", "It is not a decimal number.", "Write it in digits, with a point.")
	}
	return d, nil
}

// keepStock keeps stock for a job.
func (s *Server) keepStock(c *gin.Context) error {
	asked, err := decode[openapi.NewKept](c)
	if err != nil {
		return err
	}
	t, _, err := s.pathThing(c)
	if err != nil {
		return err
	}
	quantity, err := askedDecimal("/quantity", asked.Quantity)
	if err != nil {
		return err
	}
	job := askedID(asked.Job)
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := namedJob(tx.ReadTx, "/job", job); err != nil {
			return reply{}, err
		}
		if _, err := tx.KeepStock(t.code, job, quantity); err != nil {
			return reply{}, refusedBy(err)
		}
		now, err := stockNow(tx.ReadTx, t)
		return reply{status: http.StatusCreated, body: now}, err
	})
}

// setBin says how a part is topped up.
func (s *Server) setBin(c *gin.Context) error {
	asked, err := decode[openapi.Bin](c)
	if err != nil {
		return err
	}
	t, _, err := s.pathThing(c)
	if err != nil {
		return err
	}
	least, err := askedDecimal("/least", asked.Least)
	if err != nil {
		return err
	}
	topUp, err := askedDecimal("/top_up", asked.TopUp)
	if err != nil {
		return err
	}
	if faults := binFaults(t, least, topUp); len(faults) > 0 {
		return supplyRefused(faults)
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.Bin(t.code)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return reply{}, err
		}
		if _, err := tx.SetBin(t.code, was.Version, least, topUp); err != nil {
			return reply{}, err
		}
		now, err := stockNow(tx.ReadTx, t)
		return reply{status: http.StatusCreated, body: now}, err
	})
}

func binFaults(t *thing, least, topUp decimal.Decimal) (faults document.Faults) {
	if t.kit != nil {
		return document.Faults{{Code: "kit", At: "top_up", Reason: "A kit is made, not topped up.", Remedy: "Top up what it is made of."}}
	}
	for at, q := range map[string]decimal.Decimal{"least": least, "top_up": topUp} {
		if q.Sign() < 0 || q.GreaterThan(decimal.New(1_000_000, 0)) || !q.Equal(q.Truncate(6)) {
			faults = append(faults, document.Fault{Code: "quantity", At: at, Reason: "It is not so much of anything.", Remedy: "Write 0 to a million, with at most six decimals."})
		}
	}
	return faults.Sort()
}

func binOf(bins []store.Bin, part string) store.Bin {
	at, found := slices.BinarySearchFunc(bins, part, func(b store.Bin, code string) int {
		switch {
		case b.Part < code:
			return -1
		case b.Part > code:
			return 1
		}
		return 0
	})
	if !found {
		return store.Bin{}
	}
	return bins[at]
}

func contractStock(t *thing, k *store.Stock, b store.Bin) openapi.Stock {
	out := openapi.Stock{Part: t.code, Name: t.name, Unit: t.unit, Version: k.Version, ChangedAt: k.ChangedAt, OnHand: plain(k.OnHand), Kept: []openapi.StockKept{}}
	for _, kept := range k.Kept {
		out.Kept = append(out.Kept, openapi.StockKept{Job: kept.Job, Quantity: plain(kept.Quantity)})
	}
	if b.Version > 0 && b.TopUp.Sign() > 0 {
		out.Bin = openapi.Bin{Least: plain(b.Least), TopUp: plain(b.TopUp)}
	}
	return out
}

func contractMovement(m store.StockMovement) openapi.StockMovement {
	return openapi.StockMovement{
		Number: m.Number, At: m.At, By: m.By.String(), Kind: openapi.StockMovementKind(m.Kind), Change: plain(m.Change), OnHand: plain(m.OnHand),
		Knowing: m.Knowing, Job: contractID(m.Job), Stage: m.Stage, Kit: m.Kit, Order: contractID(m.Order), Delivery: whole(int(m.Delivery)),
	}
}
