using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>What a chapter of the story must lead to.</summary>
/// <param name="Chapter">The chapter it belongs to.</param>
/// <param name="At">The moment of the story at which it must be so; null for its end.</param>
public abstract record Expectation(string Chapter, DateTimeOffset? At);

/// <summary>A hold of a unit is in a state.</summary>
/// <param name="Contradicted">Whether later evidence contradicts its release; null when the chapter says nothing of that.</param>
public sealed record HoldExpected(string Chapter, DateTimeOffset? At, string Unit, HoldKind Hold, HoldState State, bool? Contradicted = null) : Expectation(Chapter, At);

/// <summary>A requirement has a verdict for a subject of a unit.</summary>
/// <param name="About">Text that the finding's subject or reason holds; null for any subject.</param>
public sealed record FindingExpected(string Chapter, DateTimeOffset? At, string Unit, string Requirement, Verdict Verdict, string? About = null) : Expectation(Chapter, At);

/// <summary>No finding of a requirement stands in the way of a unit.</summary>
public sealed record AllowedExpected(string Chapter, DateTimeOffset? At, string Unit, string Requirement) : Expectation(Chapter, At);

/// <summary>Recalling a subject names exactly these units: with certainty, or as possible.</summary>
public sealed record RecallExpected(string Chapter, DateTimeOffset? At, string Subject, IReadOnlyList<string> Certain, IReadOnlyList<string> Possible) : Expectation(Chapter, At);

/// <summary>A unit is at a place of its life.</summary>
public sealed record PlaceExpected(string Chapter, DateTimeOffset? At, string Unit, UnitPhase Place) : Expectation(Chapter, At);
