"""The harvest day's pages: what is brought, the plan, and publishing it."""
