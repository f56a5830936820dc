using System.Text.Json.Nodes;
using Traceability.Core.Events;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>A decision that a person asks the service for at a moment of the story, signed with a PIN.</summary>
/// <param name="Refused">Whether the service must refuse it.</param>
public abstract record Asked(DateTimeOffset At, Worker Person, bool Refused);

/// <summary>The release of a hold.</summary>
public sealed record ReleaseAsked(DateTimeOffset At, Worker Person, bool Refused, string Unit, HoldKind Hold) : Asked(At, Person, Refused);

/// <summary>Any other decision.</summary>
/// <param name="Door">Its address under /v1/.</param>
/// <param name="Content">What is posted, without PINs.</param>
/// <param name="Fact">What is recorded when it is not refused.</param>
/// <param name="Second">The second approver who signs with it; null when none does.</param>
/// <param name="Letter">The letter it rests on, uploaded before; null when it rests on none.</param>
public sealed record DecisionAsked(DateTimeOffset At, Worker Person, bool Refused, string Door, JsonObject Content, IFact Fact, Worker? Second = null, Paper? Letter = null) : Asked(At, Person, Refused);
