using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Intake;

/// <summary>Whoever sends something that cannot be taken is told what is wrong and what to do; nothing is answered as if all were well.</summary>
public sealed class Answers_in_words : OutsideTest
{
    [Fact]
    public async Task Who_does_not_say_who_sends_is_told_which_headers_are_missing()
    {
        async Task Refused(HttpRequestMessage request, params string[] said)
        {
            using var answer = await Http.SendAsync(request);
            var detail = (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("detail").GetString();
            Assert.Equal((HttpStatusCode.Unauthorized, "application/problem+json"), (answer.StatusCode, answer.Content.Headers.ContentType?.MediaType));
            Assert.NotEmpty(answer.Headers.WwwAuthenticate);
            Assert.All(said, s => Assert.Contains(s, detail, StringComparison.Ordinal));
        }

        HttpRequestMessage Fact(params (string Name, string Value)[] headers)
        {
            var request = new HttpRequestMessage(HttpMethod.Post, new Uri(Host.Address, "/v1/facts")) { Content = Content(Oiled("h-1"), Single) };
            foreach (var (name, value) in headers) request.Headers.Add(name, value);
            return request;
        }

        await Refused(Fact(), "Nothing in this request says who sends it", "X-Device-Id and X-Device-Key");
        await Refused(Fact(("X-Device-Id", "form-1")), "X-Device-Id came without X-Device-Key or X-Device-Signature");
        await Refused(Fact(("X-Device-Id", "form-1"), ("X-Device-Key", "guessed")), "its key or signature is not right");
        await Refused(Fact(("X-Device-Id", "nobody"), ("X-Device-Key", "guessed")), "its key or signature is not right");
        await Refused(new(HttpMethod.Post, new Uri(Host.Address, "/v1/decisions/corrections")) { Content = JsonContent.Create(new { }) }, "POST /v1/sign-in");
        await Refused(new(HttpMethod.Get, new Uri(Host.Address, "/v1/units")), "X-Device-Key", "POST /v1/sign-in");
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record"));
    }

    [Theory]
    [InlineData(null, "none was sent")]
    [InlineData("application/json", "it is 'application/json'")]
    public async Task A_wrong_media_type_is_told_which_ones_are_read(string? type, string said)
    {
        var answer = await PostAsync(Oiled("m-1"), type);
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, answer.StatusCode);
        Assert.Contains(said, await DetailAsync(answer), StringComparison.Ordinal);
        Assert.Contains(Single, await DetailAsync(answer), StringComparison.Ordinal);

        using var signIn = await Http.PostAsync(new Uri(Host.Address, "/v1/sign-in"), new StringContent("person=p-101", Encoding.UTF8, "application/x-www-form-urlencoded"));
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, signIn.StatusCode);
        Assert.Contains("must be application/json; it is 'application/x-www-form-urlencoded", await DetailAsync(signIn), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("id")]
    [InlineData("source")]
    public async Task One_entry_with_half_a_surrogate_in_its_name_does_not_hold_up_its_batch(string attribute)
    {
        var bad = Encoding.UTF8.GetString(Oiled("b-9")).Replace($"\"{attribute}\":\"", $"\"{attribute}\":\"x\\ud800", StringComparison.Ordinal);
        var body = "[" + string.Join(',', Enumerable.Range(0, 5).Select(i => Encoding.UTF8.GetString(Oiled($"b-{i}"))).Append(bad)) + "]";
        var answer = await PostAsync(Encoding.UTF8.GetBytes(body), Batch);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        var receipts = (await answer.Content.ReadFromJsonAsync<JsonElement>()).EnumerateArray().Select(r => r.GetProperty("status").GetString()).ToList();
        Assert.Equal(["recorded", "recorded", "recorded", "recorded", "recorded", "refused"], receipts);
        Assert.Equal(HttpStatusCode.BadRequest, (await PostAsync(Encoding.UTF8.GetBytes(bad), Single)).StatusCode);
    }

    [Fact]
    public async Task One_entry_that_is_not_UTF8_does_not_hold_up_its_batch()
    {
        byte[] body = [.. "[\""u8, 0xff, .. "\","u8, .. Oiled("u-1"), .. ",{\"id\":\""u8, 0xc3, .. "\"}]"u8];
        var answer = await PostAsync(body, Batch);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        var receipts = (await answer.Content.ReadFromJsonAsync<JsonElement>()).EnumerateArray().ToList();
        Assert.Equal(["refused", "recorded", "refused"], receipts.Select(r => r.GetProperty("status").GetString()));
        Assert.Contains("not valid UTF-8", receipts[0].GetProperty("problem").GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("[null]", "[0]")]
    [InlineData("[{\"source\":\"/x\",\"id\":\"a\"},{\"source\":\"/x\"}]", "[1]")]
    [InlineData("[{\"source\":\"\",\"id\":\"a\"}]", "[0]")]
    public async Task Receipts_of_facts_without_a_name_are_refused_by_their_place(string body, string named)
    {
        using var answer = await Http.SendAsync(Host.DeviceRequest(HttpMethod.Post, "/v1/receipts", "form-1", Content(Encoding.UTF8.GetBytes(body), "application/json")));
        Assert.Contains(answer.StatusCode, new[] { HttpStatusCode.UnprocessableEntity, HttpStatusCode.BadRequest });
        Assert.Contains(named, await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("form.oiled.v1", "form.oild.v1")]
    [InlineData("pour.placed.v1", "pour.placd.v1")]
    [InlineData(null, "something.else.v1")]
    public async Task A_mistyped_type_is_refused_with_the_nearest_that_there_is(string? nearest, string type)
    {
        var answer = await PostAsync(Oiled("t-1", type: type), Single);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, answer.StatusCode);
        var error = (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("errors")[0];
        Assert.Equal("type", error.GetProperty("field").GetString());
        Assert.Equal($"{(nearest is null ? "" : $"The nearest is '{nearest}'. ")}GET /v1/schemas lists the types.", error.GetProperty("remedy").GetString());
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.quarantine"));
    }

    [Fact]
    public async Task A_fact_of_a_time_that_has_not_come_is_kept_and_does_not_count()
    {
        var ahead = TimeProvider.System.GetUtcNow().AddMinutes(40);
        var answer = await PostAsync(Oiled("f-1", time: ahead), Single);
        var receipt = await answer.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal((HttpStatusCode.Accepted, "quarantined"), (answer.StatusCode, receipt.GetProperty("status").GetString()));
        var detail = receipt.GetProperty("problem").GetProperty("detail").GetString();
        Assert.Contains("which has not come yet", detail, StringComparison.Ordinal);
        Assert.Contains(ahead.ToOffset(PlantSimulator.Story.PlantStory.PlantOffset).ToString("yyyy-MM-dd HH:mm zzz", System.Globalization.CultureInfo.InvariantCulture), detail, StringComparison.Ordinal);
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record"));

        // A station that knows how far its clock is ahead is right all the same.
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(Oiled("f-2", time: ahead, offsetMs: 40 * 60_000), Single)).StatusCode);
    }

    [Theory]
    [InlineData("RF\u20110001", "U+2011")]
    [InlineData("\u0420F-0001", "U+0420")]
    [InlineData("RF-0001\u200B", "U+200B")]
    public async Task A_serial_that_only_looks_like_another_is_refused(string unit, string named)
    {
        var answer = await PostAsync(Oiled("l-1", unit), Single);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, answer.StatusCode);
        Assert.Contains(named, await DetailAsync(answer), StringComparison.Ordinal);
        Assert.Contains("plain keyboard", await DetailAsync(answer), StringComparison.Ordinal);
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record"));
    }

    [Theory]
    [InlineData("{\"person\":7,\"password\":\"x\"}", "person")]
    [InlineData("{\"person\":null,\"password\":\"x\"}", "person")]
    [InlineData("{\"person\":\"p-101\",\"person\":\"p-102\",\"password\":\"x\"}", "person")]
    [InlineData("{\"person\":\"x\\ud800\",\"password\":\"x\"}", "person")]
    [InlineData("{\"person\":", "body")]
    public async Task A_body_that_is_not_of_its_kind_is_told_where(string body, string named)
    {
        using var answer = await Http.PostAsync(new Uri(Host.Address, "/v1/sign-in"), Content(Encoding.UTF8.GetBytes(body), "application/json"));
        Assert.Equal((HttpStatusCode.BadRequest, "application/problem+json"), (answer.StatusCode, answer.Content.Headers.ContentType?.MediaType));
        var detail = (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("detail").GetString()!;
        Assert.Contains(named, detail, StringComparison.Ordinal);
        Assert.DoesNotContain("Traceability", detail, StringComparison.Ordinal);
    }

    [Fact]
    public async Task While_the_database_is_away_what_needs_it_is_answered_later_and_a_torn_copy_of_the_register_makes_nobody_a_stranger()
    {
        await using var host = await PlantHost.StartAsync(true, ["worker"]);
        var copy = Path.Combine(host.Folder, "people", "copy.json");
        await host.AddAsync("web", $"--People:CopyFile={copy}");
        Assert.True(File.Exists(copy));
        await host.StopLastAsync();

        const string away = "--ConnectionStrings:Postgres=Host=127.0.0.1;Port=1;Database=none;Timeout=2";
        await host.AddAsync("web", away, $"--People:CopyFile={copy}");
        Assert.Equal((HttpStatusCode.ServiceUnavailable, "/problems/database-away"), await AskAsync(host, "/v1/receipts", "[{\"source\":\"/x\",\"id\":\"a\"}]"));
        await host.StopLastAsync();

        foreach (var torn in new[] { "", (await File.ReadAllTextAsync(copy))[..200], "null", "{\"Devices\":null,\"People\":[]}" })
        {
            await File.WriteAllTextAsync(copy, torn);
            await host.AddAsync("web", away, $"--People:CopyFile={copy}");
            Assert.Equal((HttpStatusCode.ServiceUnavailable, "/problems/register-away"), await AskAsync(host, "/v1/receipts", "[]"));
            Assert.Equal((HttpStatusCode.ServiceUnavailable, "/problems/register-away"), await AskAsync(host, "/v1/sign-in", "{\"person\":\"p-101\",\"password\":\"x\"}"));
            await host.StopLastAsync();
        }
    }

    private async Task<(HttpStatusCode, string?)> AskAsync(PlantHost host, string path, string body)
    {
        using var answer = await Http.SendAsync(host.DeviceRequest(HttpMethod.Post, path, "form-1", Content(Encoding.UTF8.GetBytes(body), "application/json")));
        Assert.NotNull(answer.Headers.RetryAfter ?? (path == "/v1/sign-in" ? new(TimeSpan.Zero) : null));
        return (answer.StatusCode, (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("type").GetString());
    }

    private static async Task<string?> DetailAsync(HttpResponseMessage answer) => JsonDocument.Parse(await answer.Content.ReadAsStringAsync()).RootElement.GetProperty("detail").GetString();

    private static ByteArrayContent Content(byte[] bytes, string? type) => new(bytes) { Headers = { ContentType = type is null ? null : MediaTypeHeaderValue.Parse(type) } };

    private Task<HttpResponseMessage> PostAsync(byte[] body, string? type) => PostAsync(body, type, "form-1");

    private static byte[] Oiled(string id, string unit = "P-1", string type = "form.oiled.v1", DateTimeOffset? time = null, int? offsetMs = null) => JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id, source = "/x", type, time = time ?? new DateTimeOffset(2026, 3, 2, 9, 30, 0, TimeSpan.FromHours(-5)), clockoffsetms = offsetMs ?? 0, data = new { form = "F", unit, releaseAgent = "A" },
    });
}
