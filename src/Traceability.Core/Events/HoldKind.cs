namespace Traceability.Core.Events;

/// <summary>The points of a unit's life where work may have to wait, in order. Acceptance stays on after shipping.</summary>
public enum HoldKind { Tying, CloseUp, Pour, Place, Strip, Ship, Acceptance }
