"""What may be asked and what is answered: one module a topic, one type a request and an answer.

A contract is a msgspec struct whose fields carry a :class:`~dosewright.contracts.fields.Measure`, ``Choice``, ``Flag``
or ``Items``. Requests are generic in how a quantity is held: ``VelocityRequest[QuantityInput]`` is what a caller
writes, ``VelocityRequest[Numbers]`` is what a calculation gets, in SI. Answers are generic in their numbers likewise.
"""
