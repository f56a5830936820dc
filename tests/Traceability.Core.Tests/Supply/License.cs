using System.Xml.Linq;

namespace Traceability.Core.Tests.Supply;

/// <summary>The license of a package, as the package itself says it.</summary>
public static class License
{
    /// <summary>What may be handed out with the programs: licenses that the Open Source Initiative approved and that ask for no more than their own text.</summary>
    public static readonly IReadOnlyList<string> MayShip = ["Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "ISC", "MIT", "PostgreSQL"];

    /// <summary>What may only be built and tested with: these ask that changes to their own files be published.</summary>
    public static readonly IReadOnlyList<string> MayTest = ["MPL-2.0"];

    // A package of 2018 that names its license by address alone; the text there is Apache-2.0, as the other packages of that house say of themselves.
    private static readonly Dictionary<string, string> s_addresses = new(StringComparer.Ordinal) { ["https://raw.githubusercontent.com/xunit/xunit/master/license.txt"] = "Apache-2.0" };

    /// <summary>An SPDX expression; what was found where there is none that is known.</summary>
    public static string Of(Package package)
    {
        if (package.Find(package.Name.ToLowerInvariant() + ".nuspec") is not { } nuspec) return $"not unpacked here: restore the whole solution, {package.Name} {package.Version}";
        var metadata = XDocument.Load(nuspec).Root!.Elements().Single(e => e.Name.LocalName == "metadata").Elements().ToList();
        if (metadata.Find(e => e.Name.LocalName == "license") is { } license)
            return license.Attribute("type")?.Value == "expression" ? license.Value : package.Find(license.Value) is { } file ? OfText(File.ReadAllText(file)) : $"no file {license.Value}";
        var address = metadata.Find(e => e.Name.LocalName == "licenseUrl")?.Value ?? "none";
        return s_addresses.GetValueOrDefault(address, address);
    }

    /// <summary>Whether an expression leaves a license that is allowed: one of its alternatives is.</summary>
    public static bool Allows(string expression, IReadOnlyList<string> allowed) => expression.Trim('(', ')').Split(" OR ").Any(allowed.Contains);

    private static string OfText(string text)
    {
        var words = string.Join(' ', text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        return words.Contains("Permission is hereby granted, free of charge, to any person obtaining a copy of this software", StringComparison.Ordinal) ? "MIT"
            : words.Contains("Apache License Version 2.0", StringComparison.Ordinal) ? "Apache-2.0" : "a text that is not known";
    }
}
