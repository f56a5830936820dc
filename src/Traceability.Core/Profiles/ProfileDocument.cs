using Traceability.Core.Events;
using Traceability.Core.Quantities;

namespace Traceability.Core.Profiles;

/// <summary>One figure as a document states it, or that it states none.</summary>
/// <param name="Value">Null where the document lifts the limit.</param>
/// <param name="ShopDrawing">It stands in an approved shop drawing: a figure looser than the limit is a finding.</param>
/// <param name="Drawing">The shop drawing it stands in, where one is named.</param>
/// <param name="Products">Kinds of product it holds for; empty for all.</param>
/// <param name="When">Choices of edition under which it holds; empty for always.</param>
public sealed record Statement(
    string Key, Reading? Value, string Unit, string Printed, Citation Source, LimitRank Rank, bool ShopDrawing, string? Drawing,
    IReadOnlyList<string> Products, IReadOnlyList<EditionChoice> When, Confirmation? Confirmed, int Line)
{
    public Limit Limit => new(Key, Value ?? new Reading(), Unit, Printed, Source, Rank, Confirmed?.By, Confirmed?.On, Confirmed?.Page);

    public bool Holds(IReadOnlyDictionary<string, string> editions) => When.All(w => editions.GetValueOrDefault(w.Name) == w.Value);
}

/// <summary>Who checked a limit against which page of its document, and when.</summary>
public sealed record Confirmation(string By, DateOnly? On, string? Page);

/// <summary>A requirement that a document lifts.</summary>
public sealed record Lifted(string Requirement, string Printed, Citation Source, LimitRank Rank, IReadOnlyList<string> Products, IReadOnlyList<EditionChoice> When, int Line);

/// <summary>A part of a document that need not be there, with its line.</summary>
public sealed record Stated<T>(T Value, int Line);

/// <summary>
/// One file of limits as its author wrote it: an agency's rules, a special provision, a plant's plan. It inherits another,
/// adds statements and chooses editions; <see cref="ProfileCompiler"/> makes the complete profile of it.
/// </summary>
public sealed record ProfileDocument(
    string File, string Profile, int Version, int Line, string? Title, Stated<string>? Inherits, LimitRank? Rank, Stated<RoundingRule>? Rounding,
    Stated<IReadOnlyList<HoldKind>>? Releases, Stated<IReadOnlyList<LimitRank>>? Precedence, IReadOnlyList<Stated<EditionChoice>> Editions,
    IReadOnlyList<Statement> Limits, IReadOnlyList<Lifted> NotAsked, IReadOnlyList<Stated<HoldRule>> Holds,
    string? Agency = null)
{
    /// <summary>Its name as another file inherits it.</summary>
    public string Name => $"{Profile}@{Version}";

    /// <summary>A plant's own plan: it may tighten and do nothing else.</summary>
    public bool IsPlan => Rank == LimitRank.PlantPlan;
}
