namespace Traceability.Containers.Tests;

public sealed class Compose_file
{
    [Fact]
    public async Task Brought_up_as_it_stands_it_records_a_posted_fact_gives_the_unit_back_and_serves_the_kiosk()
    {
        var image = await ServiceImage.NameAsync();
        var folder = Directory.CreateTempSubdirectory("trace-compose-");
        var people = Path.Combine(folder.FullName, "people.json");
        await File.WriteAllTextAsync(people, OneFact.People);
        var port = Run.FreePort();
        var environment = new Dictionary<string, string>
        {
            ["TRACE_POSTGRES_IMAGE"] = TestServers.Containers.PostgresImage,
            ["TRACE_RABBITMQ_IMAGE"] = TestServers.Containers.RabbitMqImage,
            ["TRACE_SERVICE_IMAGE"] = image,
            ["TRACE_POSTGRES_PASSWORD"] = Guid.NewGuid().ToString("n"),
            ["TRACE_RABBITMQ_PASSWORD"] = Guid.NewGuid().ToString("n"),
            ["TRACE_PEOPLE_FILE"] = people,
            ["TRACE_TIME_ZONE"] = "Etc/GMT+5",
            ["TRACE_WEB_PORT"] = $"{port}",
            ["COMPOSE_PROJECT_NAME"] = $"trace{Guid.NewGuid():n}"[..16],
        };
        try
        {
            await ComposeAsync(environment, "up", "-d", "--no-build");
            var web = new Uri($"http://127.0.0.1:{port}");
            await OneFact.IsRecordedAsync(web);
            using var http = new HttpClient { BaseAddress = web };
            Assert.Contains("kiosk.webmanifest", await http.GetStringAsync("kiosk/"));
        }
        catch (Exception e)
        {
            Assert.Fail($"{e.Message}\n{await ComposeAsync(environment, "ps")}\n{await ComposeAsync(environment, "logs", "--no-color", "--tail=60")}");
        }
        finally
        {
            await ComposeAsync(environment, "down", "-v");
            folder.Delete(recursive: true);
        }
    }

    private static async Task<string> ComposeAsync(IReadOnlyDictionary<string, string> environment, params string[] arguments)
    {
        // The plug-in where the docker client has it, the older program of its own elsewhere.
        var (code, said) = await PluginIsThereAsync()
            ? await Run.ToEndAsync("docker", environment, ["compose", .. arguments])
            : await Run.ToEndAsync("docker-compose", environment, arguments);
        return code == 0 ? said : throw new InvalidOperationException($"compose {string.Join(' ', arguments)} ended with {code}: {said}");
    }

    private static async Task<bool> PluginIsThereAsync()
    {
        try
        {
            return (await Run.ToEndAsync("docker", new Dictionary<string, string>(), "compose", "version")).Code == 0;
        }
        catch (System.ComponentModel.Win32Exception)
        {
            return false;
        }
    }
}
