package api

import (
	"bytes"
	"fmt"
	"io"

	"github.com/gin-gonic/gin"

	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/supply"
	"wainscot/pricing/order"
)

// An order on paper: as a table for whoever works with it, and as it goes to the
// supplier.

func (s *Server) getOrderCSV(c *gin.Context) error {
	return s.orderOnPaper(c, kindCSV, ".csv", paper.TableCSV)
}

func (s *Server) getOrderXLSX(c *gin.Context) error {
	return s.orderOnPaper(c, kindXLSX, ".xlsx", paper.TableXLSX)
}

func (s *Server) orderOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Table) error) error {
	found, content, err := s.pathOrder(c)
	if err != nil {
		return err
	}
	var today string
	if err := s.readTx(c, func(tx store.ReadTx) (err error) { today, err = dayOf(tx); return err }); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := write(&b, orderTable(found.OrderEntry, content, today, principal(c).Role.SeesCost())); err != nil {
		return fmt.Errorf("order %d on paper: %w", found.Number, err)
	}
	return sendFile(c, kind, fmt.Sprintf("order-%d%s", found.Number, ending), b.Bytes())
}

// orderTable is an order on paper, with prices for those who are shown them.
func orderTable(e store.OrderEntry, o *order.Order, today string, prices bool) paper.Table {
	t := paper.Table{
		Name: "Order", Title: fmt.Sprintf("Order %d to %s", e.Number, o.Name), Subject: string(o.State), Day: today,
		Columns: []paper.Column{
			{Name: "line", Head: "Line", Width: 6, Number: true}, {Name: "code", Head: "Code", Width: 24}, {Name: "supplier_part", Head: "Their number", Width: 16},
			{Name: "name", Head: "Name", Width: 40}, {Name: "quantity", Head: "Quantity", Width: 10, Number: true}, {Name: "unit", Head: "Unit", Width: 8},
			{Name: "wanted_on", Head: "Wanted on", Width: 12}, {Name: "due_on", Head: "Due on", Width: 12}, {Name: "delivered", Head: "Delivered", Width: 10, Number: true},
		},
	}
	if o.PlacedOn != "" {
		t.Subject += ", placed on " + calendar.Said(o.PlacedOn)
	}
	if prices {
		t.Columns = append(t.Columns, paper.Column{Name: "unit_price", Head: "Price of one", Width: 12, Number: true}, paper.Column{Name: "amount", Head: "Amount", Width: 12, Number: true})
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		row := []string{fmt.Sprint(i + 1), l.Code, l.SupplierPart, l.Name, plain(l.Quantity), l.Unit, l.WantedOn, l.DueOn, plain(l.Delivered)}
		if prices {
			unit, amount := "", ""
			if l.UnitPrice != nil {
				unit = l.UnitPrice.Fixed()
			}
			if l.Amount != nil {
				amount = l.Amount.Fixed()
			}
			row = append(row, unit, amount)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// getOrderPDF gives an order as it goes to the supplier.
func (s *Server) getOrderPDF(c *gin.Context) error {
	found, content, err := s.pathOrder(c)
	if err != nil {
		return err
	}
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return err
	}
	var settings store.Settings
	if err := s.readTx(c, func(tx store.ReadTx) (err error) { settings, err = tx.Settings(); return err }); err != nil {
		return err
	}
	p := orderPaper(found.OrderEntry, content, principal(c).Role.SeesCost())
	p.Letterhead = settings.Letterhead
	if p.Draft {
		p.Day = o.day
	}
	if supplier, ok := o.book.Supplier(content.Supplier); ok {
		p.Address = supplier.Address
	}
	var b bytes.Buffer
	if err := paper.OrderPDF(&b, p); err != nil {
		return fmt.Errorf("order %d on paper: %w", found.Number, err)
	}
	return sendFile(c, kindPDF, fmt.Sprintf("order-%d.pdf", found.Number), b.Bytes())
}

// orderPaper is an order as it is printed, with prices for those who are shown
// them.
func orderPaper(e store.OrderEntry, o *order.Order, prices bool) paper.Order {
	p := paper.Order{Number: e.Number, Supplier: o.Name, Day: o.PlacedOn, Draft: o.State == order.Draft}
	if o.State == order.Cancelled || o.State == order.Closed {
		p.Ended = string(o.State)
	}
	if prices {
		p.Goods, p.Carriage = o.Goods, o.Carriage
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		line := paper.OrderLine{
			TheirNumber: l.SupplierPart, Name: l.Name, Quantity: plain(l.Quantity), Unit: l.Unit, By: l.WantedOn,
			Visit: l.Kind == supply.Outside, Certificate: l.Certificate,
		}
		if prices && l.UnitPrice != nil {
			line.UnitPrice = l.UnitPrice.Fixed()
		}
		if prices && l.Amount != nil {
			line.Amount = l.Amount.Fixed()
		}
		p.Lines = append(p.Lines, line)
	}
	return p
}
