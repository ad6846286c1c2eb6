"""Canner time that members book between harvest days: what it takes, when it fits, held and then booked."""
