using System.Buffers.Binary;
using System.Text;

namespace Traceability.Core.Tests.Supply;

/// <summary>Keeps docs/licenses.md as the lock files and the packages have it, and refuses a license that is not allowed.</summary>
public sealed class LicensesTests
{
    /// <summary>A file of others that lies in this repository and is handed out.</summary>
    /// <param name="Notice">The license's text, beside it.</param>
    private sealed record Foreign(string File, string From, string License, string Notice);

    private static readonly IReadOnlyList<Foreign> s_files =
    [
        .. new[] { "LiberationMono-Regular.ttf", "LiberationSans-Bold.ttf", "LiberationSans-Regular.ttf" }
            .Select(f => new Foreign("src/Traceability.Service/Packets/Fonts/" + f, "Liberation fonts", "OFL-1.1", "LICENSE-OFL-1.1.txt")),
        new("src/Traceability.Service/People/Data/common-passwords.txt", "zxcvbn-cs, of zxcvbn", "MIT", "common-passwords.LICENSE.txt"),
    ];

    [Fact]
    public void Every_package_that_is_handed_out_has_a_license_that_may_be() =>
        Assert.Empty(Package.Shipped.Where(p => !License.Allows(License.Of(p), License.MayShip)).Select(p => $"{p.Name} {p.Version} of {p.Project}: {License.Of(p)}"));

    [Fact]
    public void Every_package_that_is_only_tested_with_has_an_open_license() =>
        Assert.Empty(OfTests.Where(p => !License.Allows(License.Of(p), [.. License.MayShip, .. License.MayTest])).Select(p => $"{p.Name} {p.Version} of {p.Project}: {License.Of(p)}"));

    [Fact]
    public void A_license_that_is_bought_or_that_reaches_over_to_our_own_code_is_not_allowed()
    {
        Assert.All(["GPL-3.0-only", "AGPL-3.0-only", "SSPL-1.0", "LicenseRef-Commercial", "MPL-2.0", "MIT AND GPL-3.0-only", "a text that is not known"], l => Assert.False(License.Allows(l, License.MayShip)));
        Assert.True(License.Allows("Apache-2.0 OR MPL-2.0", License.MayShip));
    }

    [Fact]
    public void Every_file_of_others_is_listed_with_its_license_beside_it()
    {
        string[] fonts = [".ttf", ".otf", ".woff", ".woff2", ".eot"];
        string[] binaries = [".dll", ".exe", ".so", ".wasm", ".jar", ".icc", ".min.js", ".min.css"];
        var there = Directory.GetFiles(Repository.Path("src"), "*", SearchOption.AllDirectories).Select(f => Path.GetRelativePath(Repository.Folder, f).Replace('\\', '/'))
            .Where(f => !f.Split('/').Intersect(["bin", "obj"]).Any()).ToList();

        Assert.Equal(s_files.Where(f => fonts.Contains(Path.GetExtension(f.File))).Select(f => f.File).Order(StringComparer.Ordinal), there.Where(f => fonts.Contains(Path.GetExtension(f))).Order(StringComparer.Ordinal));
        Assert.DoesNotContain(there, f => binaries.Any(b => f.EndsWith(b, StringComparison.OrdinalIgnoreCase)));
        // Whoever adds a license's text for something of others adds the row too.
        Assert.Equal(s_files.Select(f => f.Notice).Distinct().Order(StringComparer.Ordinal), there.Select(f => Path.GetFileName(f)!).Where(f => f.Contains("LICENSE", StringComparison.OrdinalIgnoreCase) && Path.GetExtension(f) == ".txt").Order(StringComparer.Ordinal));
        Assert.All(s_files, f => Assert.Contains(f.License == "MIT" ? "Permission is hereby granted, free of charge" : "SIL Open Font License", Notice(f), StringComparison.OrdinalIgnoreCase));
    }

    [Fact]
    public void The_fonts_say_themselves_that_they_are_under_the_open_font_license() =>
        Assert.All(s_files.Where(f => f.License == "OFL-1.1"), f => Assert.Contains("SIL Open Font License", SaidByFont(File.ReadAllBytes(Repository.Path(f.File.Split('/')))), StringComparison.OrdinalIgnoreCase));

    [Fact]
    public void The_page_of_licenses_is_as_the_lock_files_have_it()
    {
        var text = new StringBuilder("""
            # Licenses of what others made

            Generated from the lock files and from the packages themselves; a test keeps it so, and fails on a license that is not allowed. The project itself is under
            Apache-2.0. Nothing here has to be bought. `ops/sbom` writes the same for programs, with hashes ([operations.md](operations.md)).

            Handed out may be what is under
            """);
        text.Append(' ').AppendJoin(", ", License.MayShip).Append(" (packages) and OFL-1.1 (fonts).\nWhere a package offers several, we take one of these. For building and testing also ")
            .AppendJoin(", ", License.MayTest).Append(".\n\n## Packages in the programs\n\n");
        text.Append("\"of the SDK\" is the version that the .NET SDK of the build brings.\n\n| package | version | license | in |\n|---|---|---|---|\n");
        Rows(text, Package.Shipped, p => string.Join(", ", p.Select(x => x.Project).Distinct().Order(StringComparer.Ordinal)));
        text.Append("""

            ## Files and programs that are no packages

            | what | where | license | its text |
            |---|---|---|---|

            """);
        foreach (var file in s_files) text.Append("| ").Append(file.From).Append(" | `").Append(file.File).Append("` | ").Append(file.License).Append(" | `").Append(file.Notice).Append("` beside it |\n");
        text.Append("""
            | .NET and ASP.NET Core, with what they carry | the image; beside the program after a publish with its own runtime; in the kiosk as WebAssembly | MIT | in the runtime's own package |
            | Swagger UI | inside Swashbuckle.AspNetCore.SwaggerUI, the page `/api-docs` | Apache-2.0 | not in the package; its authors publish it |
            | PostgreSQL, RabbitMQ, the base images | run beside the service, are not part of it | PostgreSQL; MPL-2.0; the images' own | in the images |

            Pages, scripts, styles and pictures are the project's own, and ask no other host for anything. A publish does not copy the texts of the packages' licenses along: whoever hands the
            programs on adds them.

            ## Packages for building and testing only


            """);
        text.Append("| package | version | license |\n|---|---|---|\n");
        Rows(text, OfTests, null);

        Repository.AssertGenerated(text.ToString(), "docs", "licenses.md");
    }

    private static IReadOnlyList<Package> OfTests => [.. Package.Projects.SelectMany(Package.Of).Where(p => !Package.Shipped.Any(s => s.Name == p.Name && s.Version == p.Version))];

    private static void Rows(StringBuilder text, IEnumerable<Package> packages, Func<IEnumerable<Package>, string>? last)
    {
        foreach (var same in packages.GroupBy(p => (p.Name, p.Version)).OrderBy(g => g.Key.Name, StringComparer.OrdinalIgnoreCase).ThenBy(g => g.Key.Version, StringComparer.Ordinal))
        {
            text.Append("| ").Append(same.Key.Name).Append(" | ").Append(same.First().IsOfTheSdk ? "of the SDK" : same.Key.Version).Append(" | ").Append(License.Of(same.First()));
            if (last is not null) text.Append(" | ").Append(last(same));
            text.Append(" |\n");
        }
    }

    private static string Notice(Foreign file) => File.ReadAllText(Repository.Path([.. file.File.Split('/')[..^1], file.Notice]));

    // What a TrueType file says of its license: record 13 of its table "name" (OpenType specification, chapter "name").
    private static string SaidByFont(ReadOnlySpan<byte> font)
    {
        for (var i = 0; i < BinaryPrimitives.ReadUInt16BigEndian(font[4..]); i++)
        {
            var entry = font[(12 + i * 16)..];
            if (!entry[..4].SequenceEqual("name"u8)) continue;
            var table = font.Slice((int)BinaryPrimitives.ReadUInt32BigEndian(entry[8..]), (int)BinaryPrimitives.ReadUInt32BigEndian(entry[12..]));
            var texts = table[BinaryPrimitives.ReadUInt16BigEndian(table[4..])..];
            for (var n = 0; n < BinaryPrimitives.ReadUInt16BigEndian(table[2..]); n++)
            {
                var record = table.Slice(6 + n * 12, 12);
                const int windows = 3, license = 13;
                if (BinaryPrimitives.ReadUInt16BigEndian(record) == windows && BinaryPrimitives.ReadUInt16BigEndian(record[6..]) == license)
                    return Encoding.BigEndianUnicode.GetString(texts.Slice(BinaryPrimitives.ReadUInt16BigEndian(record[10..]), BinaryPrimitives.ReadUInt16BigEndian(record[8..])));
            }
        }

        return "nothing";
    }
}
