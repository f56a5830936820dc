using Traceability.Core.Profiles;

namespace Traceability.Core.Tests;

/// <summary>
/// Marks a test that compares with a figure from outside this project. docs/checks.md is generated from these.
/// </summary>
/// <param name="what">What is compared, with its inputs.</param>
/// <param name="value">The expected figure, with its unit.</param>
/// <param name="source">The document: standard, edition, clause.</param>
/// <param name="mark">How sure the figure or its rule is.</param>
[AttributeUsage(AttributeTargets.Method, AllowMultiple = true)]
public sealed class OutsideCheckAttribute(string what, string value, string source, SourceMark mark) : Attribute
{
    public string What { get; } = what;
    public string Value { get; } = value;
    public string Source { get; } = source;
    public SourceMark Mark { get; } = mark;

    /// <summary>How far the result may be from the value.</summary>
    public string Tolerance { get; init; } = "exact";
}
