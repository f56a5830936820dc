using System.Text.RegularExpressions;

namespace Traceability.Core.Tests.Supply;

/// <summary>Which images containers are made of, and what of this folder goes into one.</summary>
public sealed partial class ImagesTests
{
    private static readonly string[] s_dockerfiles = ["ops/Dockerfile", "ops/Dockerfile.published"];

    [Theory]
    [InlineData("postgres", false)]
    [InlineData("postgres:latest", false)]
    [InlineData("postgres:15", false)]
    [InlineData("dotnet/sdk:10.0", false)]
    [InlineData("postgres:15.14", true)]
    [InlineData("dotnet/sdk:10.0.401", true)]
    [InlineData("rabbitmq@sha256:3333333333333333333333333333333333333333333333333333333333333333", true)]
    public void A_tag_that_may_name_another_image_tomorrow_is_told_from_one_that_names_a_version(string image, bool exact) => Assert.Equal(exact, IsExact(image));

    [Fact]
    public void Every_image_can_be_given_by_its_digest_and_names_an_exact_version_otherwise()
    {
        var compose = ComposeImage().Matches(Text("docker-compose.yml")).Select(m => m.Groups[1].Value).ToList();
        Assert.Equal(3, compose.Count);
        // What is built here has no version yet.
        Assert.DoesNotContain(compose, i => VariableWithDefault().Match(i) is not { Success: true } m || (m.Groups[1].Value != "TRACE_SERVICE_IMAGE" && !IsExact(m.Groups[2].Value)));

        foreach (var file in s_dockerfiles)
        {
            var given = Argument().Matches(Text(file)).ToDictionary(m => m.Groups[1].Value, m => m.Groups[2].Value, StringComparer.Ordinal);
            var images = From().Matches(Text(file)).Select(m => m.Groups[1].Value).ToList();
            Assert.NotEmpty(images);
            // The registry, which may be left out, and the image, both variables.
            Assert.All(images, i => Assert.Matches(@"^(\$\{DOTNET_IMAGES\})?\$\{[A-Z_]+\}$", i));
            Assert.All(images, i => Assert.True(IsExact(given[i[(i.LastIndexOf('{') + 1)..^1]]), $"{file}: {i}"));
        }

        // Compose hands its own on.
        var handed = BuildArgument().Matches(Text("docker-compose.yml")).ToDictionary(m => m.Groups[1].Value, m => m.Groups[2].Value, StringComparer.Ordinal);
        Assert.Equal(Argument().Matches(Text("ops/Dockerfile")).ToDictionary(m => m.Groups[1].Value, m => m.Groups[2].Value, StringComparer.Ordinal), handed);
    }

    [Fact]
    public void The_image_is_built_with_the_sdk_that_global_json_asks_for_and_runs_on_the_runtime_of_its_packages()
    {
        var tags = Argument().Matches(Text("ops/Dockerfile")).Select(m => m.Groups[2].Value).ToList();
        var least = System.Text.Json.JsonDocument.Parse(Text("global.json")).RootElement.GetProperty("sdk").GetProperty("version").GetString()!;
        Assert.True(Version.Parse(tags.Single(t => t.Contains("sdk:", StringComparison.Ordinal)).Split(':')[1]) >= Version.Parse(least));
        Assert.Equal(Package.Pins["Microsoft.AspNetCore.OpenApi"], tags.Single(t => t.Contains("aspnet:", StringComparison.Ordinal)).Split(':')[1]);
    }

    [Theory]
    [InlineData(".git/config")]
    [InlineData(".env")]
    [InlineData("plant.env")]
    [InlineData("ops/https.env")]
    [InlineData("people.json")]
    [InlineData("ops/people.json")]
    [InlineData("bootstrap.json")]
    [InlineData("ops/bootstrap-north.json")]
    [InlineData("service.key")]
    [InlineData("tls/plant-ca.key")]
    [InlineData("signer/log-key.pem")]
    [InlineData("log-key.pem")]
    [InlineData("ops/tls/service.pfx")]
    [InlineData("ops/tls/service.p12")]
    [InlineData("secrets/secrets-key")]
    [InlineData("src/Traceability.Service/secrets/secrets-key")]
    [InlineData("src/Traceability.Service/signer/log-state.json")]
    [InlineData("src/Traceability.Service/appsettings.Development.json")]
    [InlineData("src/Traceability.Service/bin/Release/net10.0/traceability.dll")]
    [InlineData("src/Traceability.Service/obj/project.assets.json")]
    [InlineData("tests/Traceability.Core.Tests/bin/Release/x.dll")]
    [InlineData("tests/Traceability.Core.Tests/TestResults/result.trx")]
    [InlineData(".data/kiosk/index.html")]
    [InlineData("out/packet.zip")]
    [InlineData("src/Traceability.Kiosk/Traceability.Kiosk.csproj.user")]
    [InlineData("BenchmarkDotNet.Artifacts/results.json")]
    public void Nothing_secret_and_nothing_built_goes_into_an_image(string path) => Assert.True(IsIgnored(path), path);

    [Theory]
    [InlineData("Directory.Packages.props")]
    [InlineData("src/Traceability.Service/packages.lock.json")]
    [InlineData("src/Traceability.Service/Program.cs")]
    [InlineData("src/Traceability.Service/People/Secrets.cs")]
    [InlineData("src/Traceability.Kiosk/wwwroot/index.html")]
    [InlineData("global.json")]
    public void What_the_build_needs_does(string path) => Assert.False(IsIgnored(path), path);

    // An exact version has a number for every change: three where the makers count so, two where they count so (PostgreSQL).
    private static bool IsExact(string image) => Digest().IsMatch(image) || (Tag().Match(image) is { Success: true } m && m.Groups[2].Value.Count(c => c == '.') >= (m.Groups[1].Value.EndsWith("postgres", StringComparison.Ordinal) ? 1 : 2));

    // As the engines read the file: the last line that fits decides; ** stands for any number of folders; a folder that is left out takes all in it along.
    private static bool IsIgnored(string path)
    {
        var ignored = false;
        foreach (var line in Text(".dockerignore").Split('\n').Select(l => l.Trim()).Where(l => l.Length > 0 && l[0] != '#'))
        {
            var kept = line[0] == '!';
            var pattern = Regex.Escape((kept ? line[1..] : line).Trim('/')).Replace(@"\*\*/", "(.*/)?", StringComparison.Ordinal).Replace(@"\*\*", ".*", StringComparison.Ordinal).Replace(@"\*", "[^/]*", StringComparison.Ordinal).Replace(@"\?", "[^/]", StringComparison.Ordinal);
            if (Regex.IsMatch(path, $"^{pattern}(/.*)?$", RegexOptions.CultureInvariant)) ignored = !kept;
        }

        return ignored;
    }

    private static string Text(string path) => File.ReadAllText(Repository.Path(path.Split('/')));

    [GeneratedRegex(@"^\s*image: (\S+)", RegexOptions.Multiline)]
    private static partial Regex ComposeImage();

    [GeneratedRegex(@"^\$\{([A-Z_]+):-(\S+)\}$")]
    private static partial Regex VariableWithDefault();

    [GeneratedRegex(@"^\s*(DOTNET_[A-Z]+): \$\{TRACE_\1:-(\S+)\}$", RegexOptions.Multiline)]
    private static partial Regex BuildArgument();

    [GeneratedRegex(@"^ARG ([A-Z_]+)=(\S+)", RegexOptions.Multiline)]
    private static partial Regex Argument();

    [GeneratedRegex(@"^FROM (\S+)", RegexOptions.Multiline)]
    private static partial Regex From();

    [GeneratedRegex("@sha256:[0-9a-f]{64}$")]
    private static partial Regex Digest();

    [GeneratedRegex(@"^([^:@]+):(\d[\w.]*)$")]
    private static partial Regex Tag();
}
